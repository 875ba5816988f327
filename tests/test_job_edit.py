"""Values written back into job files: only what was to change is different, down to the byte."""

import copy
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st
from samples import FOLDER

from facegraphic.errors import UserError
from facegraphic.job.edit import SETTINGS, edited, key_path, tidy
from facegraphic.job.reader import key_text
from facegraphic.job.saving import ChangedMeanwhile, body_of, save, text_of

EXAMPLES = sorted(path.name for path in FOLDER.glob("*.toml"))
NUDGE = ("face", 0, "control", 0, "nudge")


def middle(before: str, after: str) -> tuple[str, str]:
    """What is left of two texts without what they begin and end with alike."""
    first = next(
        (n for n, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), min(map(len, (before, after)))
    )
    before, after = before[first:], after[first:]
    last = next((n for n, (a, b) in enumerate(zip(before[::-1], after[::-1], strict=False)) if a != b), None)
    last = min(len(before), len(after)) if last is None else last
    return before[: len(before) - last], after[: len(after) - last]


def with_value(data: dict[str, Any], path: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    changed: Any = copy.deepcopy(data)
    here = changed
    for part in path[:-1]:
        here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
    here[path[-1]] = value
    return dict(changed)


def has(data: Any, path: tuple[str | int, ...]) -> bool:
    for part in path:
        if not (part in data if isinstance(data, dict) else part in range(len(data))):
            return False
        data = data[part]
    return True


def comments(text: str) -> list[str]:
    """The comments of the examples, on lines of their own, and those that this test scatters, by their numbers."""
    return re.findall(r"^#.*|# (?:said |over )?\d+", text, re.MULTILINE)


def hold(before: str, path: tuple[str | int, ...], value: Any) -> str:
    """Edit a text and hold the result to all laws."""
    after = edited(before, path, value)
    wanted = with_value(tomllib.loads(before), path, value)
    assert tomllib.loads(after) == wanted
    assert tomlkit.parse(after).unwrap() == wanted  # another reader
    gone, come = middle(before, after)
    assert comments(before) == comments(after)
    if has(tomllib.loads(before), path):
        assert before.count("\n") == after.count("\n")
    else:
        assert gone == ""
        assert come.count("\n") in ((0, 1) if has(tomllib.loads(before), path[:-1]) else (0, 3))
    assert ("\r\n" in before) == ("\r\n" in after) or "\n" not in before
    if "\r\n" in before:
        assert not re.search(r"(?<!\r)\n", come)
    assert before.endswith("\n") == after.endswith("\n")
    return after


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_control_of_the_examples_gains_one_line(name: str) -> None:
    text = (FOLDER / name).read_text(encoding="utf-8")
    for number, face in enumerate(tomllib.loads(text)["face"]):
        for index, control in enumerate(face.get("control", ())):
            path = ("face", number, "control", index, "nudge")
            if "nudge" in control:
                continue
            after = hold(text, path, [0.5, -1])
            before_lines, after_lines = text.splitlines(), after.splitlines()
            at = next(n for n, line in enumerate(after_lines) if line == "nudge = [0.5, -1]")
            assert after_lines[:at] + after_lines[at + 1 :] == before_lines


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(("key", "value"), [("paint", "#102030"), ("ink", "#fefefe"), ("paper", "A3")])
def test_settings_of_the_examples(name: str, key: str, value: str) -> None:
    hold((FOLDER / name).read_text(encoding="utf-8"), SETTINGS[key], value)


@pytest.mark.parametrize(
    ("before", "path", "after"),
    [
        # what follows a value stays, and so do odd spaces
        ("[box]\npaint   =  '#fff'   # as bought\n", ("box", "paint"), "[box]\npaint   =  \"new\"   # as bought\n"),
        # a key goes to its own table's keys, not below what is said of the next
        (
            '[box]\nstock = "a" # it\n\n# the next\n[finish]\nink = "b"\n',
            ("box", "paint"),
            '[box]\nstock = "a" # it\npaint = "new"\n\n# the next\n[finish]\nink = "b"\n',
        ),
        ('[box]\n  stock = "a"\n', ("box", "paint"), '[box]\n  stock = "a"\n  paint = "new"\n'),
        ('[box]\nstock = "a"', ("box", "paint"), '[box]\nstock = "a"\npaint = "new"'),
        ('[box]\r\nstock = "a"\r\n', ("box", "paint"), '[box]\r\nstock = "a"\r\npaint = "new"\r\n'),
        # in a file with both, a line ends as its neighbour does
        ('# a\n[box]\r\nstock = "a"\r\n', ("box", "paint"), '# a\n[box]\r\nstock = "a"\r\npaint = "new"\r\n'),
        ("[box] # bare\n", ("box", "paint"), '[box] # bare\npaint = "new"\n'),
        ('box = { stock = "a" }\n', ("box", "paint"), 'box = { stock = "a", paint = "new" }\n'),
        ("box = {}\n", ("box", "paint"), 'box = { paint = "new" }\n'),
        ('box.stock = "a"\nx = 1\n', ("box", "paint"), 'box.stock = "a"\nbox.paint = "new"\nx = 1\n'),
        ('[box]\nstock = "a"\n', ("finish", "ink"), '[box]\nstock = "a"\n\n[finish]\nink = "new"\n'),
        ('[box]\nsize = [1,\n  2]\n', ("box", "paint"), '[box]\nsize = [1,\n  2]\npaint = "new"\n'),
        ('[box]\nx = """\n  [a]"""\n', ("box", "paint"), '[box]\nx = """\n  [a]"""\npaint = "new"\n'),
        ('"box"."paint" = "b"\n', ("box", "paint"), '"box"."paint" = "new"\n'),
    ],
)  # fmt: skip
def test_where_a_value_goes(before: str, path: tuple[str, str], after: str) -> None:
    assert edited(before, path, "new") == after
    assert tomllib.loads(after)[path[0]][path[1]] == "new"


def test_of_a_nudge_only_the_lengths_are_replaced() -> None:
    text = '[[face]]\n[[face.control]]\nnudge = ["1 mm", # across\n {} ] # and up\nhole = "x"\n'
    assert edited(text.format(2), NUDGE, [3, 4]) == text.format(4).replace('"1 mm"', "3")


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ('box = "no table"\n', ("box", "paint")),
        ("[[box]]\n", ("box", "paint")),
        ('face = [{control = [{hole = "a"}]}]\n', ("face", 0, "control", 1, "nudge")),
        ("[finish.deep]\nx = 1\n", ("finish", "ink")),
        ('"a b".x = 1\n', ("a b", "y")),
        ("", ("box", "paint")),
    ],
)  # fmt: skip
def test_what_cannot_be_written_is_refused(text: str, path: tuple[str | int, ...]) -> None:
    with pytest.raises(UserError, match="cannot be written"):
        edited(text, path, "#fff")


def written(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {written(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return str(tomlkit.item(value).as_string())


class Writer:
    """Writes data as TOML in one of its many layouts, with comments all over it."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw
        self.newline = draw(st.sampled_from(["\n", "\r\n"]))
        self.count = 0

    def one_of(self, *choices: str) -> str:
        return str(self.draw(st.sampled_from(choices)))

    def comment(self) -> str:
        self.count += 1
        return self.one_of("", "", f'  # said {self.count}: [x] = {{y}} "', f" # {self.count}")

    def pair(self, key: str, value: Any) -> str:
        equals = self.one_of(" = ", "=", "   =  ")
        key = self.one_of(key, key, f'"{key}"')
        text = written(value)
        if isinstance(value, list) and value and self.one_of("one", "lines") == "lines":
            inner = [f"  {written(item)},{self.comment()}{self.newline}" for item in value]
            text = f"[{self.newline}{''.join(inner)}]"
        return self.one_of("", "", "  ", "\t") + key + equals + text + self.comment()

    def gap(self) -> list[str]:
        self.count += 1
        return self.draw(st.sampled_from([[], [""], ["", f"# over {self.count}"], [f"  # {self.count}", ""]]))

    def table(self, path: str, data: dict[str, Any]) -> list[str]:
        """A table's own pairs, then its tables and arrays of tables; some of these within braces or dotted."""
        lines, later = [], []
        for key, value in data.items():
            if isinstance(value, dict) and not path and self.one_of("header", "dotted") == "dotted":
                lines += [f"{key}.{self.pair(inner, item).strip()}" for inner, item in value.items()]
            elif isinstance(value, dict) and (path or self.one_of("header", "braces") == "braces"):
                lines.append(self.pair(key, value))
            elif isinstance(value, dict):
                later.append((key, [value], f"[{key}]"))
            elif value and isinstance(value, list) and all(isinstance(item, dict) for item in value):
                whole = f"{path}.{key}".lstrip(".")
                if self.one_of("headers", "headers", "braces") == "braces":
                    lines.append(self.pair(key, value))
                else:
                    later.append((key, value, f"[[{whole}]]"))
            else:
                lines.append(self.pair(key, value))
            lines += self.gap()
        for key, tables, header in later:
            for item in tables:
                lines += [*self.gap(), header + self.comment()]
                lines += self.table(f"{path}.{key}".lstrip("."), item)
        return lines

    def text(self, data: dict[str, Any]) -> str:
        end = self.one_of("", self.newline, self.newline * 2)
        return self.newline.join([*self.gap(), *self.table("", data)]) + end


@st.composite
def layouts(draw: Any) -> tuple[str, dict[str, Any]]:
    data = tomllib.loads((FOLDER / draw(st.sampled_from(EXAMPLES))).read_text(encoding="utf-8"))
    for face in data["face"]:
        for control in face.get("control", ()):
            if draw(st.booleans()):
                control["nudge"] = [1.5, -2]
    return Writer(draw).text(data), data


@settings(deadline=None, max_examples=150)
@given(layouts(), st.data())
def test_any_layout_of_the_examples(laid: tuple[str, dict[str, Any]], data: Any) -> None:
    text, content = laid
    assert tomllib.loads(text) == content, "the writer of this test is wrong"
    controls = [(f, c) for f, face in enumerate(content["face"]) for c, _ in enumerate(face.get("control", ()))]
    face, control = data.draw(st.sampled_from(controls))
    length = st.floats(-20, 20).map(tidy)
    hold(text, ("face", face, "control", control, "nudge"), [data.draw(length), data.draw(length)])
    name = data.draw(st.sampled_from(sorted(SETTINGS)))
    hold(text, SETTINGS[name], data.draw(st.sampled_from(["#123456", "A3", 'with "quotes"', "toner-transfer"])))


@given(st.lists(st.tuples(st.sampled_from(["face", "control", "box"]), st.lists(st.integers(0, 30), max_size=2))))
def test_key_paths_read_back(parts: list[tuple[str, list[int]]]) -> None:
    path = tuple(part for name, numbers in parts for part in (name, *numbers))
    assert key_path(key_text(path)) == path or not path


@pytest.mark.parametrize(("length", "text"), [(0.5, "0.5"), (-0.0, "0"), (3.0, "3"), (1 / 3, "0.33"), (-0.004, "0")])
def test_lengths_as_people_write_them(length: float, text: str) -> None:
    assert str(tidy(length)) == text


def test_a_byte_order_mark_stays_apart() -> None:
    assert body_of(text_of(b"\xef\xbb\xbfa = 1\n")) == ("\ufeff", "a = 1\n")
    assert body_of("a = 1\n") == ("", "a = 1\n")


def test_saving_keeps_mode_and_link_and_leaves_nothing_behind(tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    real.write_bytes(b"old")
    real.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    save(link, b"old", b"new")
    assert link.is_symlink() and real.read_bytes() == b"new"
    assert real.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link.toml", "real.toml"]


def test_what_others_wrote_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b"theirs")
    with pytest.raises(ChangedMeanwhile):
        save(path, b"old", b"new")
    assert path.read_bytes() == b"theirs"
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]
