#!/usr/bin/env bash
# Runs the tests that need real CAN, the files *.inside.ts of this folder, in one user-mode Linux.
# Arguments go to vitest: a file name for one file, -t for one test.
cd "$(dirname "${BASH_SOURCE[0]}")/../../.." || exit
exec tests/system/uml/inside.sh --slcan --limit 300 \
  node node_modules/vitest/vitest.mjs run --config tests/system/uml/vitest.config.ts "$@"
