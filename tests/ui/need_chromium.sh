#!/bin/sh
# Make sure that the browser tests find chromium; never fails, says what it did.
if command -v chromium >/dev/null 2>&1; then
    exit 0
fi
if command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ]; then
    echo "chromium is missing: installing it for the browser tests (apt-get install chromium)"
    if apt-get update -qq >/dev/null 2>&1 &&
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null 2>&1; then
        echo "chromium is installed"
    else
        echo "chromium could not be installed: the browser tests will be skipped"
    fi
else
    echo "chromium is missing: the browser tests will be skipped; to run them, install the program chromium (on Debian and Ubuntu as root: apt-get install chromium; on Fedora: dnf install chromium; on macOS: brew install --cask chromium)"
fi
exit 0
