"""A script is read line by line; what is wrong with it is told at its line, all at once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.virtual import orders as o
from bridge.virtual.script import ScriptError, mistakes_of, read_script
from bridge.virtual.staging import Stage, StagingError, stage

from .conftest import DEMO, demonstration, evening_of


def only(demo: Stage, line: str) -> o.Order:
    """The order of one line of engine e1's crew."""
    (crew,) = read_script(f"crew e1\n {line}\n", "s", demo.railway).crews
    return crew.lines[0][0]


@pytest.mark.parametrize(
    ("line", "order"),
    [
        ("works g1", o.Works("g1")),
        ("at 19:08", o.UntilClock(19 * 3600 + 8 * 60)),
        ("at 24:10:30", o.UntilClock(24 * 3600 + 630)),
        ("waits 4.5 s", o.Waits(4.5)),
        ("waits until e2 within lanternby.platform", o.WaitsUntil(o.Condition("within", "e2", "lanternby.platform"))),
        ("waits until lanternby-pettymarsh clear", o.WaitsUntil(o.Condition("clear", place="lanternby-pettymarsh"))),
        ("runs to pettymarsh.loop", o.RunsTo("pettymarsh.loop")),
        (
            "runs to lanternby.loop by lanternby.platform at 60 mm/s",
            o.RunsTo("lanternby.loop", None, "lanternby.platform", 60),
        ),
        ("runs 230 mm into pettymarsh.dairy", o.RunsTo("pettymarsh.dairy", 230)),
        ("draws clear into pettymarsh.up", o.DrawsClear("pettymarsh.up")),
        ("couples to w11", o.Couples("w11")),
        ("leaves w01 w02", o.Leaves(("w01", "w02"))),
        ("leaves all", o.Leaves((), all_but=True)),
        ("keeps b1 w06", o.Leaves(("b1", "w06"), all_but=True)),
        ("takes token pettymarsh-featherlow at pettymarsh", o.TakesToken("pettymarsh-featherlow", "pettymarsh")),
        ("says explain i7 it was the cat", o.Says("explain i7 it was the cat")),
        ("board copperwhin silent for 30 s", o.BoardFails("copperwhin", silent_s=30)),
        ("board copperwhin loses 1 report", o.BoardFails("copperwhin", lost=1)),
        ("board copperwhin loses 2 reports and sends them again", o.BoardFails("copperwhin", lost=2, kept=True)),
    ],
)
def test_a_line_is_an_order(demo: Stage, line: str, order: o.Order) -> None:
    assert only(demo, line + "   # and a comment") == order


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("rnus to pettymarsh.loop", "did you mean 'runs'"),
        ("runs to pettymarsh.lop", "the nearest is 'pettymarsh.loop'"),
        ("couples to w99", "There is no vehicle 'w99'"),
        ("at seven", "cannot follow"),
        ("at 19.05", "write it as 19:05"),
        ("waits until it rains", "condition"),
        ("if no-such: ends", "No mistake 'no-such'"),
        ("mistake", "cannot follow"),
    ],
)
def test_a_fault_names_file_line_and_remedy(demo: Stage, line: str, says: str) -> None:
    with pytest.raises(ScriptError) as raised:
        read_script(f"begin 19:00\n\ncrew e1\n  {line}\n", "my.script", demo.railway)
    (fault,) = raised.value.faults
    assert str(fault).startswith("my.script:4: ")
    assert says in str(fault)
    assert line in str(fault)


def test_a_condition_without_an_order_is_told(demo: Stage) -> None:
    with pytest.raises(ScriptError, match="s:3: I cannot follow this line"):
        read_script("mistake late: it is late\ncrew e1\n if late:\n", "s", demo.railway)


def test_all_faults_at_once_and_orders_belong_to_a_crew(demo: Stage) -> None:
    text = "ends\ncrew signalman\n runs to pettymarsh.loop\n says end\ncrew e1\n nonsense\n"
    with pytest.raises(ScriptError) as raised:
        read_script(text, "s", demo.railway)
    assert [fault.line_no for fault in raised.value.faults] == [1, 3, 6]


WORDS = [
    "crew",
    "begin",
    "speed",
    "mistake",
    "if",
    "unless",
    "wrong-road:",
    "e1",
    "g1",
    "w11",
    "at",
    "19:08",
    "waits",
    "until",
    "in",
    "clear",
    "3",
    "mm",
    "s",
    "into",
    "by",
    "runs",
    "to",
    "leaves",
    "all",
]
words = st.lists(st.sampled_from([*WORDS, "pettymarsh.loop", "expects", "from", "due", "now", "board"]), max_size=9).map(
    " ".join
)


@given(st.text(max_size=80) | words)
def test_no_line_is_a_crash(text: str) -> None:
    try:
        read_script(f"crew e1\n{text}\n", "s", demonstration())
    except ScriptError as error:
        assert error.faults


def test_mistakes_choose_lines(demo: Stage) -> None:
    text = "mistake late: it is late\ncrew e1\n if late: waits 9 s\n unless late: waits 1 s\n ends\n"
    assert mistakes_of(text) == {"late": "it is late"}

    def orders(*chosen: str) -> list[o.Order]:
        return [order for order, _ in read_script(text, "s", demo.railway, chosen).crews[0].lines]

    assert orders() == [o.Waits(1), o.Ends()]
    assert orders("late") == [o.Waits(9), o.Ends()]


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (" couples to w11\n", "no way leads to w11"),
        (" runs to copperwhin.bin by saltgander.loop\n", "no way leads to copperwhin.bin"),
        (" leaves w11\n", "w11 not coupled to it"),
        (" leaves w03\n", "stands between"),
        (" runs to lanternby.platform\n", "without reversing"),
        (" takes token pettymarsh-featherlow at pettymarsh\n", "lies at featherlow"),
        (" draws clear into pettymarsh.down\n runs to pettymarsh.dairy\n", "too short"),
        (" runs to saltgander.platform\n", "do not fit on saltgander.platform, where e2 stands"),
    ],
)
def test_what_cannot_be_done_is_told_at_its_line(demo: Stage, lines: str, says: str) -> None:
    with pytest.raises(ScriptError) as raised:
        evening_of(demo.railway, "crew e1\n" + lines).run()
    assert says in str(raised.value)
    assert "test.script:" in str(raised.value)


def test_a_stage_knows_its_script_and_its_mistakes(scripted: Stage) -> None:
    with pytest.raises(StagingError, match=r"There is no script .*mine\.script"):
        stage(scripted.railway, DEMO / "mine.script")
    with pytest.raises(StagingError, match=r"The nearest is wrong-road"):
        scripted.evening(1, ["wrong-raod"])
