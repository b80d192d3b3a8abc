"""What is shown is as wide as a pipe has it, whatever terminal the tests run in; Ctrl-C reaches what they start.

What a season keeps on the disk is kept in a folder of the tests' own. No example of Hypothesis has a time
limit: a busy machine makes no test red.
"""

import os
import signal
import tempfile
import threading

from hypothesis import settings

from tests.support.browser import browser as browser

os.environ.pop("COLUMNS", None)
# The runner loads readline, which tells COLUMNS to child processes alone, past `os.environ`.
os.unsetenv("COLUMNS")
# A shell starts what runs in the background deaf to Ctrl-C, and every process that a test starts would inherit that.
if (
    signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    and threading.current_thread() is threading.main_thread()
):
    signal.signal(signal.SIGINT, signal.default_int_handler)
_kept = tempfile.TemporaryDirectory(prefix="darkfill-tests-", ignore_cleanup_errors=True)
os.environ["DARKFILL_CACHE"] = _kept.name
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
