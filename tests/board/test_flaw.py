from scanner.board.flaw import Flaw, FlawKind, FlawState, doubtful_first


def test_the_doubtful_come_first_and_what_was_looked_at_last():
    flaws = (
        Flaw("F1", FlawKind.KNOT, score=0.97),
        Flaw("F2", FlawKind.CHECK, score=0.45),
        Flaw("F3", FlawKind.KNOT, score=0.5, state=FlawState.CONFIRMED),
        Flaw("F4", FlawKind.HOLE, score=0.7),
    )
    assert [flaw.id for flaw in doubtful_first(flaws)] == ["F2", "F4", "F1", "F3"]
