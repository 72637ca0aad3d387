"""Every page is a widget that still does what its base class needs."""

from __future__ import annotations

import ipywidgets
import pytest

from fallow.panels.bring_back.page import BringBackPage
from fallow.panels.controls.page import More
from fallow.panels.feed_bench.page import FeedBench
from fallow.panels.feeds_to_recovery.page import FeedsToRecovery
from fallow.panels.import_and_share.page import ImportAndShare
from fallow.panels.one_jar.page import OneJar
from fallow.panels.put_away.page import PutAwayPage
from fallow.panels.record_a_trial.page import RecordATrial


@pytest.mark.parametrize(
    "page", [BringBackPage, FeedBench, FeedsToRecovery, ImportAndShare, OneJar, PutAwayPage, More, RecordATrial]
)
def test_no_page_hides_a_name_of_its_base(page):
    # A method called open once hid Widget.open, and the page never reached the browser.
    own = {name for name in vars(page) if not name.startswith("__")}
    assert own & set(dir(ipywidgets.VBox)) <= {
        "_trait_default_generators",
        "_all_trait_default_generators",
        "_traits",
        "_static_immutable_initial_values",
        "_descriptors",
        "_instance_inits",
        "_cross_validation_lock",
    }
