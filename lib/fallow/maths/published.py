"""Published temperature curves of sourdough organisms, as frozen objects that carry their source and their range."""

from __future__ import annotations

from dataclasses import dataclass

from fallow.maths.arguments import FloatOrArray, Number, finite, plain
from fallow.maths.curve_forms import CardinalForm, Form, TailForm


@dataclass(frozen=True, kw_only=True)
class PublishedCurve:
    """A growth curve with its source: per hour (natural log) for temperatures in degC.

    Parameters
    ----------
    name, organism
        A short name, and what grew.
    form
        The equation with its numbers.
    measured_c
        Lowest and highest temperature measured; outside it a value is still given and ``extrapolated`` says so.
    no_growth_below_c
        The author's own 'no growth' temperature, degC: what the cold scenario 'stop' takes.
    source, doi, checked_against, note
        Where it comes from, what it was held against, what a reader must know.
    """

    name: str
    organism: str
    form: Form
    measured_c: tuple[float, float]
    no_growth_below_c: float
    source: str
    doi: str
    checked_against: str
    note: str

    @property
    def optimum_c(self) -> float:
        """Temperature of fastest growth, degC."""
        return self.form.optimum_c

    @property
    def optimum_per_hour(self) -> float:
        """Growth rate at the optimum, per hour."""
        return float(self.per_hour(temp_c=self.optimum_c))

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Temperatures at which the form breaks, degC; an integral over temperature is split there."""
        return self.form.breaks_c

    def per_hour(self, *, temp_c: Number) -> FloatOrArray:
        """Return the growth rate per hour: 0 outside the growth range, never NaN; a float for a float.

        >>> round(GAENZLE_1998_YEAST.per_hour(temp_c=26.0), 4)
        0.4143
        """
        return plain(self.form.per_hour(temp_c=finite("temp_c", temp_c)))

    def extrapolated(self, *, temp_c: Number) -> FloatOrArray:
        """Return whether a temperature lies outside what was measured.

        >>> GAENZLE_1998_YEAST.extrapolated(temp_c=4.0)
        True
        """
        temp = finite("temp_c", temp_c)
        low, high = self.measured_c
        return plain((temp < low) | (temp > high))


GAENZLE_1998_YEAST = PublishedCurve(
    name="Gaenzle 1998, yeast",
    organism="Kazachstania humilis (then Candida milleri)",
    form=TailForm(a=0.0124, b=2.981, c=0.3355, max_c=36.0),
    measured_c=(8.0, 35.0),
    no_growth_below_c=8.0,
    source="Gaenzle, Ehmann & Hammes 1998, Appl. Environ. Microbiol. 64(7):2616-2623",
    doi="10.1128/AEM.64.7.2616-2623.1998",
    checked_against="the author's table, from memory: 3 decimals from 2 to 24 °C; optimum 27 °C",
    note="Constants from a second-hand text. Laboratory medium: the shape carries over to dough, the pace does "
    "not. No growth at 8 °C is the author's statement for dough.",
)
GAENZLE_1998_LAB = PublishedCurve(
    name="Gaenzle 1998, LAB",
    organism="Fructilactobacillus sanfranciscensis, strain I",
    form=TailForm(a=0.1267, b=1.5404, c=0.1931, max_c=41.0),
    measured_c=(4.0, 41.0),
    no_growth_below_c=4.0,
    source="Gaenzle, Ehmann & Hammes 1998, Appl. Environ. Microbiol. 64(7):2616-2623",
    doi="10.1128/AEM.64.7.2616-2623.1998",
    checked_against="the same table: three decimals, 2 to 10 °C; 0.005 per hour up to 32 °C; unconfirmed above",
    note="Constants from a second-hand text. Above 32 °C only the highest temperature, 41 °C, is confirmed. "
    "No growth at 4 °C is the author's statement for dough.",
)
SALVADO_2011_YEAST = PublishedCurve(
    name="Salvado 2011, baker's yeast",
    organism="Saccharomyces cerevisiae, strain CECT 10131",
    form=CardinalForm(min_c=0.74, opt_c=32.8, max_c=45.9, opt_per_hour=0.449),
    measured_c=(4.0, 45.0),
    no_growth_below_c=0.74,
    source="Salvado, Arroyo-Lopez, Guillamon, Salazar, Querol & Barrio 2011, Appl. Environ. Microbiol. 77(7):2292-2302",
    doi="10.1128/AEM.01861-10",
    checked_against="the species' mean optimum, 32.3 °C, and highest, 45.4 °C, in the abstract",
    note="Parameters from a second-hand text, measured range from memory. Its no-growth temperature is the "
    "model's own Tmin; the authors state no other, so both cold scenarios are this curve. At 6 °C it doubles in 26 h, "
    "where others measured 42 to 63 h: too fast in the cold.",
)
