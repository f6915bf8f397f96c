#!/bin/sh
# Make every reference file in this folder again. Needs R, epiR, lme4, MASS, scipy and statsmodels: see README.md.
set -eu
cd "$(dirname "$0")"
export TZ=UTC LC_ALL=C.UTF-8
Rscript intervals.R
python3 intervals.py
python3 compare.py
