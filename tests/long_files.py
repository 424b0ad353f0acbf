"""Files of tests that take long, in CPU seconds of all their processes: the longest begin.

Timed one after the other on two cores (2026-11-29). Only the order of the tests follows from it,
so it need not be exact, and a file that is not here is judged by how many slow tests it holds.
"""

CPU_S = {
    "tests/app/test_main_job.py": 240.0,
    "tests/ui/test_layout_browser.py": 95.0,
    "tests/vision/test_rule.py": 85.0,
    "tests/storage/test_crash.py": 17.0,
}
# These come before all others: meanwhile a fresh clone compiles the search.
SEARCH_NOTHING = ("tests/vision/test_rule.py", "tests/vision/test_rule_size.py")
