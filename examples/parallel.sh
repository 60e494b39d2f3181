#!/usr/bin/env bash
# Many cases on one machine or several, by GNU parallel: each process takes a share of the list, then the shares are put together.
#
#   parallel.sh OUT SHARES CASE...
#   parallel.sh plans 4 cases/*
#
# PAVM names the command (default: pavm). PARALLEL_OPTIONS go to parallel, for example "--sshlogin 4/lung1,4/lung2" with a
# shared folder. Ends with the exit code of the gathered summary.
set -euo pipefail
if [ $# -lt 3 ]; then
  echo "usage: parallel.sh OUT SHARES CASE..." >&2
  exit 2
fi
out=$1
shares=$2
shift 2
read -r -a command <<<"${PAVM:-pavm}"
read -r -a options <<<"${PARALLEL_OPTIONS:-}"

# A share with a finding that stops ends with 1, one with a bad case with 2 or 3: the summary says which, so parallel goes on.
parallel --will-cite --halt never ${options[@]+"${options[@]}"} \
  "${command[@]}" batch "$@" --out "$out" --jobs 1 --quiet --shard "{}/$shares" '>' /dev/null \
  ::: $(seq "$shares") || true
exec "${command[@]}" gather "$out"
