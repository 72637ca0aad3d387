"""Run JupyterLab, and leave when it has ended: an idle thread of a library it uses can hold a finished server back."""

from __future__ import annotations

import os
import sys

from jupyterlab.labapp import main

if __name__ == "__main__":
    status = 0
    try:
        main()
    except SystemExit as end:
        if isinstance(end.code, str):
            print(end.code, file=sys.stderr)
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status)
