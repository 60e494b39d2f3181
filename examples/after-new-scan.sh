#!/usr/bin/env bash
# After a new scan: keeps the standing plan, plans the case again and says whether the plan still stands.
#
#   after-new-scan.sh CASE [NAME-OF-THE-OLD-PLAN]
#
# Put the new meshes and the new scan date into the case folder first. The standing plan goes to plan-before/ (or the name given),
# the new one to plan/, and what changed to change.md. PAVM names the command (default: pavm); options for treated lesions go into
# COMPARE_OPTIONS, for example "--treated".
# Ends with 0 where the plan stands, 1 where it changes or a finding stops, 2 or 3 where an input cannot be used.
set -uo pipefail
if [ $# -lt 1 ]; then
  echo "usage: after-new-scan.sh CASE [NAME-OF-THE-OLD-PLAN]" >&2
  exit 2
fi
folder=$1
kept=$folder/${2:-plan-before}
read -r -a command <<<"${PAVM:-pavm}"
read -r -a options <<<"${COMPARE_OPTIONS:-}"
if [ ! -f "$folder/plan/result.json" ]; then
  echo "$folder/plan: there is no standing plan to compare with. Plan the case first: pavm plan $folder" >&2
  exit 2
fi
if [ -e "$kept" ]; then
  echo "$kept: this is there already. Name another, or move it away." >&2
  exit 2
fi

# Into a folder of its own first: until the new plan is whole, the old one stays where it is.
"${command[@]}" plan "$folder" --out "$folder/plan-new"
planned=$?
[ "$planned" -ge 2 ] && exit "$planned"
mv "$folder/plan" "$kept"
mv "$folder/plan-new" "$folder/plan"
"${command[@]}" compare "$kept" "$folder/plan" --out "$folder/change.md" ${options[@]+"${options[@]}"}
compared=$?
[ "$compared" -ge "$planned" ] && exit "$compared"
exit "$planned"
