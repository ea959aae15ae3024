"""Teaching: exercises a teacher hands over, practice rounds with marking, cases with a hidden fault.

Nothing here knows Qt, a clock or a terminal. What a window (or a terminal) needs:

Exercises
    `exercise_file.read_exercise(path) -> Exercise`, `write_exercise(path, exercise)`; `SUFFIX`.
    `Exercise(title, teacher, items, words)`; `.item(number)`, `.with_item(number, item)`.
    `Item`: `.stream` to replay (`ReplaySource(item.stream, item.title)`), `.trace`, `.length_s`,
    `.shows_band`, `.dose_g`, `.yield_g`, `.recipe`, `.notes_until(t_s)`, `.with_note(note)`, `.reference`.
    Making one: `cutting.pulls_in(stream)` to choose from, `cutting.item_from(stream, pull, notes=…)`;
    `reference.corrected(item, plateau_start_s=…)` for the teacher's corrections.
    Endless practice: `endless.practice_exercise(Level.USUAL, seed, count)`.

A round
    `practice.Round(exercise.items, title=…, exercise=exercise.digest)`, then `replay_at(t_s)` from a timer,
    `press()` for the one key (pump on, then plateau start), `take_back()`, `say_brew_temp(degc)`,
    `say_counts(bool)`, `submit()` or `skip()`, `go_on()`, `watch_again()`, `abort()`. Each returns a
    `RoundView` (or the `Marking`), `round.view` is always there; `round.result` goes to
    `scores.keep_round(logbook, trainee, result)`. `scores.trainees`, `scores.history`, `scores.progress`.
    `marking.Marking.parts` holds a `PartMark` each with points and sentence; `marking.POINTS` the scale.

Cases
    `cases.case.Case(code)`: `.brief` to show, `.open()` for `start_sitting(source, …)`,
    `.pot()` for a probe check, `.pull()` and `.boil()` for both at once without a clock.
    `cases.diagnosis.evidence_from(brief, shots, checks)` while at work, at the end
    `mark_diagnosis(case, Diagnosis(fault=…, size_k=…), shots, checks) -> CaseMarking`;
    `cases.fault.FAULT_TEXTS` are the faults to choose from, those in `SIZED` are asked for a size in K.
    `scores.keep_case(logbook, trainee, code, diagnosis, marking)`, `scores.cases_sentence(history)`.
"""
