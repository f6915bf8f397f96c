#!/bin/sh
# Make every reference file in this folder again, about five minutes. Needs R, epiR, lme4, MASS, scipy and statsmodels: see README.md.
set -eu
cd "$(dirname "$0")"
export TZ=UTC LC_ALL=C.UTF-8
for script in intervals numeric washes detection yards growth efficacy sequential; do Rscript "$script.R"; done
for script in intervals compare density pool colony-year; do python3 "$script.py"; done
