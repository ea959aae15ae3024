"""How often the obvious experiments solve a case, and how often too few of them seem to: over many cases.

    python tests/benchmarks/bench_cases.py [HOW_MANY] [FIRST]

Obvious: six shots at uneven intervals, a boil of the probe, and, where only slow water and grind are left,
two shots ground coarser. Too few: one shot, and three shots without a check.
"""

from __future__ import annotations

import sys
from collections import Counter

from benchtemp.shots.shot import analyse_stream
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.evidence import evidence_from
from benchtemp.teaching.cases.fault import Fault

FLOW = {Fault.SLOW_FLOW, Fault.GRIND}


def main(count: int, first: int) -> None:
    """Print how it went, fault by fault."""
    seen, solved, wrong, guessed = Counter(), Counter(), Counter(), Counter()
    for code in range(first, first + count):
        case = Case(code)
        fault = case.break_seal().fault
        shots, checks = analyse_stream(case.pull(6)).shots, [case.boil()]
        found = evidence_from(case.brief, shots, checks).candidates
        if set(found) == FLOW:
            shots = (*shots, *analyse_stream(case.pull(2, grind_percent=125.0, sitting=2)).shots)
            found = evidence_from(case.brief, shots, checks).candidates
        seen[fault] += 1
        solved[fault] += found == (fault,)
        wrong[fault] += fault not in found
        few = [evidence_from(case.brief, shots[:number]).candidates for number in (1, 3)]
        wrong[fault] += sum(fault not in left for left in few)
        guessed[fault] += len(few[0]) == 1
        if found != (fault,):
            print(f"case {code}: {fault}, left {', '.join(found)}")
    print(f"{'fault':12} {'cases':>6} {'solved':>7} {'ruled out though there':>23} {'told by one shot':>17}")
    for fault in Fault:
        print(f"{fault!s:12} {seen[fault]:6} {solved[fault]:7} {wrong[fault]:23} {guessed[fault]:17}")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*(given + [100, 1000][len(given) :]))
