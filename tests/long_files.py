"""Files of tests that take long, in seconds: the longest begin.

About what they took in a whole run on two workers of two cores (2026-11-29), where it told. Only
the order of the tests follows from it, so it need not be exact, and a file that is not here is
judged by what it holds.
"""

SECONDS = {
    "tests/app/test_main_job.py": 200.0,
    "tests/ui/test_layout_browser.py": 120.0,
    "tests/ui/test_browser.py": 110.0,
    "tests/ui/test_side_browser.py": 90.0,
    "tests/vision/test_rule.py": 100.0,
    "tests/ui/test_whole_job_browser.py": 70.0,
    "tests/storage/test_crash.py": 15.0,
    "tests/storage/test_full_disk.py": 15.0,
    "tests/ui/test_tap_browser.py": 25.0,
    "tests/app/test_piece_photo.py": 25.0,
    "tests/render_two_tests/test_pictures.py": 25.0,
    "tests/placement/test_class_bound.py": 25.0,
    "tests/fuzz/test_borders.py": 25.0,
    "tests/app/test_buy_wood.py": 20.0,
}
# These come before all others but those that look at a page. They search nothing, the demo only at
# its end: meanwhile a fresh clone compiles the search.
FIRST = (
    "tests/app/test_main_job.py",
    "tests/vision/test_rule.py",
    "tests/vision/test_rule_size.py",
    "tests/vision/flaws/test_flaws.py",
    "tests/vision/flaws/test_marked.py",
)
