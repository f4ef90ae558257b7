"""What is worth knowing and no more: told as advice, at its place, and only where it is so."""

import pytest

from bridge.folder import read

from .changed import TEXTS, changed


def advice(*changes, **files):
    """(file, line, text, message) of every advice the example does not have, after replacements."""
    texts = changed(*changes, **files)
    result = read({name: text.encode() for name, text in texts.items()})
    assert [f for f in result.findings if f.level != "advice"] == []
    before = {f.message for f in read({name: text.encode() for name, text in TEXTS.items()}).findings}
    return [(f.file, f.line, f.text, f.message) for f in result.findings if f.message not in before]


def one(*changes, **files):
    found = advice(*changes, **files)
    assert len(found) == 1, found
    return found[0]


def test_a_siding_that_needs_a_run_round():
    result = read({name: text.encode() for name, text in TEXTS.items()})
    (said,) = result.findings
    assert (said.level, said.file, said.line, said.text) == ("advice", "moves.csv", 3, "cinder.hopper")
    assert "no second road" in said.remedy


@pytest.mark.parametrize(("open_", "told"), [('["down"]', False), ('["up"]', True), ('["up", "down"]', False)])
def test_a_siding_is_pushed_into_from_the_end_at_which_it_opens(open_, told):
    """g1 comes to birch from the up end: its engine is at the down end, and pushes into what opens there."""
    found = advice(("railway.toml", 'length = 700\nopen = ["down"]', f"length = 700\nopen = {open_}"))
    assert [row[:3] for row in found] == ([("moves.csv", 2, "birch.coal")] if told else [])
    assert all("birch" in row[3] for row in found)


def test_through_which_road_it_can_run_round():
    text = TEXTS["railway.toml"].replace('length = 700\nopen = ["down"]', 'length = 700\nopen = ["up"]')
    result = read({**{name: t.encode() for name, t in TEXTS.items()}, "railway.toml": text.encode()})
    assert any("birch.platform must be clear" in f.remedy for f in result.findings)


def test_a_train_that_leaves_the_way_it_came():
    back = TEXTS["timetable.csv"] + "p1,passenger,e2,birch,platform,19:38,,,\n"
    assert one(timetable=back.replace("alder.loop,19:34,,", "alder.loop,19:34,19:34:30,,"))[1:3] == (7, "alder.loop")


def test_an_engine_alone_needs_no_run_round():
    alone = "working,kind,engine,station,road,depart,rake\np1,passenger,e2,cinder,main,19:20,\n"
    alone += "p1,passenger,e2,birch,platform,,\np1,passenger,e2,cinder,main,,\n"
    result = read(
        {name: t.encode() for name, t in {**TEXTS, "timetable.csv": alone, "moves.csv": "Wagon,from,to\n"}.items()}
    )
    assert result.findings == ()


def test_a_train_that_overhangs_where_nobody_comes():
    file, line, text, message = one(("railway.toml", "length = 1600", "length = 440"))
    assert (file, line, text) == ("timetable.csv", 5, "main")
    assert "450 mm" in message


def test_two_trains_share_a_road_that_holds_both():
    """p1 comes to its end behind g1, which goes on at the far end: nobody is in anybody's way."""
    after = "working,kind,engine,station,road,arrive,depart,rake,wait_for\ng1,goods,e1,alder,platform,,19:05,w1 w2 b1,\n"
    after += "g1,goods,e1,birch,platform,19:11,19:40,,\ng1,goods,e1,cinder,main,19:46,,,\n"
    after += "p1,passenger,e2,alder,loop,,19:20,,\np1,passenger,e2,birch,platform,19:24,,,\n"
    found = advice(
        ("whereabouts.csv", "e2,cinder.main,1\nc1,cinder.main,2", "e2,alder.loop,1\nc1,cinder.main,1"), timetable=after
    )
    assert [(row[1], row[2], "g1 and p1" in row[3]) for row in found if "both booked" in row[3]] == [(6, "platform", True)]


def test_an_engine_on_another_road_of_its_station():
    assert one(("whereabouts.csv", "e2,cinder.main,1", "e2,cinder.hopper,1"))[:3] == ("timetable.csv", 5, "e2")


def test_vehicles_that_stand_nowhere():
    change = ("stock.csv", "c1,coach", "w8,wagon,van,Q 41,80,,,,,,\nw9,wagon,van,Q 42,80,,,,,,\nc1,coach")
    assert one(change) == ("whereabouts.csv", 1, "", "Of the vehicles in stock.csv these stand nowhere: w8, w9.")


def test_a_working_called_like_a_vehicle():
    assert one(timetable=TEXTS["timetable.csv"].replace("p1,", "c1,").replace(",p1\n", ",c1\n"))[:3] == (
        "timetable.csv",
        5,
        "c1",
    )


def test_two_treadles_without_their_sides():
    both = ("railway.toml", 'sees = "tail"', 'sees = "engine"')
    assert one(both)[:3] == ("railway.toml", 178, '"birch-tail"')
    assert advice(both, ("railway.toml", '"birch-tail"', '"birch-tail"\nside = "up"')) == []
    assert len(advice(both, ("railway.toml", '"birch-tail"', '"birch-tail"\nside = "down"'))) == 1


def test_a_board_over_mqtt_and_no_broker():
    broker = '[broker]\nhost = "127.0.0.1"\nport = 1884\ntls = false\nuser = "shelf"\n'
    assert one(("railway.toml", broker, ""))[:3] == ("railway.toml", 105, '"birch"')


def test_a_port_that_is_not_used():
    assert one(("railway.toml", 'link = "mqtt"', 'link = "mqtt"\nport = "COM3"'))[2] == '"COM3"'


def test_a_token_that_nobody_would_know():
    assert one(("railway.toml", 'token_tags = ["04A1003B68", "04a1003b69"]\n', ""))[2] == '"alder-birch"'


def test_two_sections_that_lead_the_same_way():
    twin = 'id = "second"\nfrom = "alder.down"\nto = "birch.up"\nlength = 5000\nrule = "one-train"\n\n'
    twin += '[[section]]\nid = "birch-cinder"'
    found = advice(("railway.toml", 'id = "birch-cinder"\nfrom', twin + "\nfrom"))
    assert [row[:2] for row in found] == [("timetable.csv", 3), ("timetable.csv", 7)]


def test_a_column_that_looks_like_a_slip():
    assert one(("stock.csv", "vehicle,kind,class", "vehicle,kind,clas"))[:3] == ("stock.csv", 1, "clas")
