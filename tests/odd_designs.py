"""Odd design files, each with the class that a refusal must have; "fine" where the work must go on.

Every case is a line of text put in the place of another one of a small, sound design.
"""

from dataclasses import dataclass, field

DESIGN = """\
name: invented
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif}
rows: {method: straight}
beds: {path_width_m: 0.3}
plantings:
  - {crop: apple, bed: tree}
  - {crop: bean, bed: vegetable}
start_date: 2026-03-01
season: {years: 3}
stakeout: {tolerance_m: 0.05}
output: {folder: result}
"""


@dataclass(frozen=True)
class Odd:
    """A design (old text -> new text), the command that is given it, and the class of the refusal."""

    name: str
    kind: str
    changes: tuple[tuple[str, str], ...] = ()
    text: str | bytes | None = None
    command: tuple[str, ...] = ("check", "design.yaml")
    says: str = ""
    files: dict[str, bytes] = field(default_factory=dict)

    def design(self) -> bytes:
        if self.text is not None:
            return self.text if isinstance(self.text, bytes) else self.text.encode()
        text = DESIGN
        for old, new in self.changes:
            assert old in text, (self.name, old)
            text = text.replace(old, new)
        return text.encode()


def _bomb() -> str:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 9)}]" for k in range(1, 12)]
    return DESIGN + "\n".join(lines)


def _rows(text: str, kind: str = "design", says: str = "") -> Odd:
    return Odd(f"rows {text}", kind, (("rows: {method: straight}", f"rows: {{method: straight, {text}}}"),), says=says)


def _bean(text: str, kind: str = "design", says: str = "") -> Odd:
    return Odd(
        f"bean {text}", kind, (("{crop: bean, bed: vegetable}", f"{{crop: bean, bed: vegetable, {text}}}"),), says=says
    )


def _season(text: str, kind: str = "design") -> Odd:
    return Odd(f"season {text}", kind, (("season: {years: 3}", f"season: {{years: 3, {text}}}"),))


def _stakes(text: str, kind: str = "design") -> Odd:
    return Odd(f"stakeout {text}", kind, (("stakeout: {tolerance_m: 0.05}", f"stakeout: {{{text}}}"),))


def _named(name: str, text: str, kind: str = "design", says: str = "") -> Odd:
    return Odd(f"name {name}", kind, (("name: invented", f"name: {text}"),), says=says)


TEXTS = [
    Odd("empty", "design", text=""),
    Odd("only a comment", "design", text="# nothing\n"),
    Odd("a list", "design", text="- 1\n- 2\n"),
    Odd("a word", "design", text="hello"),
    Odd("two documents", "design", text=DESIGN + "---\nname: second\n"),
    Odd("not utf-8", "input", text=DESIGN.encode("utf-16")),
    Odd("latin letters", "input", text="name: F\xfcr\n".encode("latin-1")),
    Odd("byte order mark", "fine", text=b"\xef\xbb\xbf" + DESIGN.encode()),
    Odd("zero bytes", "design", text=b"\0" * 64),
    Odd("control character", "design", text=DESIGN.replace("invented", "in\x07vented")),
    Odd("tab for indentation", "design", text=DESIGN.replace("  boundary", "\tboundary")),
    Odd("unclosed bracket", "design", text=DESIGN.replace("tif}", "tif")),
    Odd("unclosed quote", "design", text=DESIGN.replace("invented", '"invented')),
    Odd("duplicate key", "design", text=DESIGN + "name: again\n", says="duplicate key"),
    Odd("merge key", "fine", text=DESIGN.replace("rows: {method: straight}", "rows: &r {method: straight}").replace(
        "beds: {path_width_m: 0.3}", "beds:\n  <<: {path_width_m: 0.3}")),
    Odd("merge key with a mistake inside", "design", says="spacing_m", text=DESIGN.replace(
        "rows: {method: straight}", "rows:\n  <<: {spacing_m: -1}\n  method: straight")),
    Odd("merge of nothing", "design", text=DESIGN.replace("rows: {method: straight}", "rows: {<<: 3}")),
    Odd("anchor without a name", "design", text=DESIGN.replace("name: invented", "name: *nobody")),
    Odd("nested 100,000 deep", "design", text=DESIGN + "deep: " + "[" * 100_000 + "]" * 100_000, says="nested"),
    Odd("nested 20 deep as keys", "design", text=DESIGN + "deep: " + "{" * 20 + "}" * 20, says="a key that is no text"),
    Odd("keys nested 40 deep", "design", text=DESIGN + "? " * 40 + "a\n", says="a key that is no text"),
    Odd("nested 1,500 deep in blocks", "design", says="nested", text=DESIGN + "".join(
        f"{' ' * k}k:\n" for k in range(1500)) + " " * 1500 + "v\n"),
    Odd("alias bomb", "design", text=_bomb(), says="grows"),
    Odd("alias of itself", "design", text=DESIGN + "me: &me [*me]\n"),
    Odd("python object tag", "design", text=DESIGN.replace("invented", "!!python/object:os.system 'true'")),
    Odd("own tag", "design", text=DESIGN.replace("invented", "!mine invented")),
    Odd("binary tag", "design", text=DESIGN.replace("name: invented", "name: !!binary aGVsbG8=")),
    Odd("set tag", "design", text=DESIGN.replace("rows: {method: straight}", "rows: !!set {method, spacing}")),
    Odd("key that is a list", "design", text=DESIGN + "? [a, b]\n: c\n"),
    Odd("key that is a number", "design", text=DESIGN + "3: c\n"),
    Odd("crop that is a number", "design", text=DESIGN + "crops: {2024: {like: bean}}\n"),
    Odd("key that is nothing", "design", text=DESIGN + "~: c\n"),
    Odd("number of 5,000 digits", "design", text=DESIGN.replace("years: 3", "years: " + "9" * 5000)),
    Odd("hexadecimal of 9,000 digits", "design", text=DESIGN.replace("years: 3", "years: 0x" + "f" * 9000)),
    Odd("comments before a list left open", "design", text=b"\x00nande tdrs: #-\r\rnde tdrs: #-({crop levat" + b"\r" * 6 + b" +-" + b"\r" * 12 + b"\n\r\r]\r\r\r\r---\rion:({file0\n"),
    Odd("a number of dashes alone", "design", text=DESIGN.replace("years: 3", "years: -___"), says="design.yaml:11: not YAML"),
    Odd("a number of nothing, by its tag", "design", text=DESIGN.replace("years: 3", "years: !!int ''"), says="design.yaml:11: not YAML"),
    Odd("3 MB of blanks", "design", text=DESIGN + " \n" * 1_500_000, says="MB"),
    Odd("yaml directive of a later version", "design", text="%YAML 9.9\n---\n" + DESIGN),
    Odd("broken toml", "design", text="name = ", command=("check", "design.toml")),
    Odd("toml nested deep", "design", text="a = " + "[" * 3000 + "]" * 3000, command=("check", "design.toml")),
    Odd("a design called .txt", "design", command=("check", "design.txt")),
    Odd("no such design", "input", command=("check", "nothing.yaml")),
    Odd("a folder as design", "input", command=("check", ".")),
    Odd("a design's name too long", "input", command=("check", "d" * 300 + ".yaml")),
    Odd("a design's path too long", "input", command=("check", "d/" * 3000 + "d.yaml")),
]  # fmt: skip

VALUES = [
    _named("block text", "|\n  two\n  lines\n", "fine"),
    _named("folded text", ">\n  two\n  lines\n", "fine"),
    _named("nothing", "", says="name"),
    _named("blank", "'   '"),
    _named("a number", "12"),
    _named("a list", "[a]"),
    _named("control character", r'"a\u0007b"', says="control"),
    _named("zero byte", r'"a\0b"', says="control"),
    _named("escape sequence", r'"a\e[31mb"', says="control"),
    _named("a lone half of a letter", r'"a\ud800b"'),
    _named("turned round", r'"a\u202egpj.b"', says="direction of writing"),
    _named("nothing to be seen", r'"\u200b\u200d"', says="nothing that can be seen"),
    _named("10,000 letters", "n" * 10_000, says="letters"),
    _named("a formula", "'=1+1'", "fine"),
    _named("markup", "'<b>&amp;]]></b>'", "fine"),
    _named("right to left", "'\u05d2\u05d9\u05e0\u05d4'", "fine"),
    _rows("spacing_m: 0"),
    _rows("spacing_m: -4"),
    _rows("spacing_m: .nan"),
    _rows("spacing_m: .inf"),
    _rows("spacing_m: 1e400"),
    _rows("spacing_m: '1.2.3 m'"),
    _rows("spacing_m: '4 parsec'"),
    _rows("spacing_m: 4,5", says="write 4.5, not 4,5"),
    _rows("spacing_m: true"),
    _rows("spacing_m: [4]"),
    _rows("spacing_m: 0.0001", says="spacing_m"),
    _rows("spacing_m: 45", "fine"),
    _rows("spacing_m: 1e6"),
    _rows("spacing_tolerance_pct: .nan"),
    _rows("max_grade_pct: .inf"),
    _rows("max_grade_pct: -1"),
    _rows("min_turn_radius_m: .inf"),
    _rows("min_row_length_m: 1e9"),
    _rows("smoothing_m: 1e6", says="smoothing_m"),
    _rows("smoothing_m: .nan"),
    _rows("levelled_m: 41", says="levelled_m"),
    _rows("levelled_m: -1", says="levelled_m"),
    _rows("bearing_deg: 360"),
    _rows("bearing_deg: .nan"),
    _rows("target_grade_pct: .inf, fall_toward: ridge"),
    _rows("fall_toward: outlet"),
    _rows("outlet: {file: nothing.gpkg}", "input"),
    _rows("method2: contour"),
    _bean("lines: 1000000000", says="lines"),
    _bean("lines: 0"),
    _bean("lines: 1.5"),
    _bean("spacing_m: 0.0001", says="spacing_m"),
    _bean("spacing_m: 45"),
    _bean("week: 1000000000", says="week"),
    _bean("week: -1"),
    _bean("gap_weeks: 1000000000"),
    _bean("harvest_weeks: [5, 1000000000]"),
    _bean("harvest_weeks: [9, 5]"),
    _bean("offsets_m: [.inf]"),
    _bean("offsets_m: [1e9]"),
    _bean("first_offset_m: .nan"),
    _bean("sequence_shift: 1000000000000000000000"),
    _bean("every: 1000000000000000000000"),
    _bean("root_opening_deg: .inf"),
    _bean("direction: .nan"),
    Odd("a decimal comma in the second planting", "design", (("{crop: bean, bed: vegetable}", "{crop: bean, bed: vegetable, spacing_m: 0,5}"),), says="plantings[2]: 5 stands alone"),
    Odd("an unknown crop", "design", (("crop: bean", "crop: beam"),)),
    Odd("a crop of 300 letters", "design", (("crop: bean", f"crop: {'b' * 300}"),)),
    Odd("40 chained plantings a year apart", "design", (("start_date: 2026-03-01", "\n".join(
        ["  - {crop: bean, bed: vegetable, name: p0}"]
        + [f"  - {{crop: bean, bed: vegetable, name: p{k}, after: p{k - 1}, gap_weeks: 300}}" for k in range(1, 40)]
    ) + "\nstart_date: 2026-03-01"),), says="week"),
    Odd("600 chained plantings", "design", (("start_date: 2026-03-01", "\n".join(
        ["  - {crop: bean, bed: vegetable, name: p0}"]
        + [f"  - {{crop: bean, bed: vegetable, name: p{k}, after: p{k - 1}}}" for k in range(1, 600)]
    ) + "\nstart_date: 2026-03-01"),), says="500"),
    Odd("year 1", "design", (("2026-03-01", "0001-01-01"),), says="start_date"),
    Odd("year 9999", "design", (("2026-03-01", "9999-12-31"),), says="start_date"),
    Odd("30 February", "design", (("2026-03-01", "2026-02-30"),), says="start_date"),
    Odd("a start that is a number", "design", (("2026-03-01", "20260301.5"),)),
    Odd("a start that isn't a number", "design", (("2026-03-01", ".nan"),)),
    _season("crew: {people: .inf}"),
    _season("crew: {people: 1e300}"),
    _season("crew: {hours_per_day: 0}"),
    _season("crew: {weekdays: []}"),
    _season("discount_rate_pct: .nan"),
    _season("weeding: {bare_weeks: .inf}"),
    _season("weeding: {bare_weeks: 0}"),
    _season("prepare_lead_weeks: 1e300"),
    _season("vegetables: {years: 1000000000}"),
    _season("vegetables: {every_weeks: 1000000000000}"),
    _season("simulation: {runs: 1000000000}"),
    _season("simulation: {seed: -1}"),
    _season("labour_range: [3, 2, 1]"),
    _season("costs: [{name: a, amount: .inf}]"),
    _season("costs: [{name: a, amount: 1, from_year: 1000000000000000}]"),
    _season("currency: a very long currency"),
    _season("windows: [{name: w, kind: frost, first: 02-30, last: 03-01}]"),
    _stakes("tolerance_m: .nan"),
    _stakes("tolerance_m: .inf"),
    _stakes("tolerance_m: 0"),
    _stakes("walk_from: [.nan, 1]"),
    _stakes("walk_from: [1e400, 1]"),
    Odd("a folder with a zero byte", "design", (("folder: result", r'folder: "re\0sult"'),), command=("layout", "design.yaml")),
    Odd("a folder with a name too long", "output", (("folder: result", f"folder: {'r' * 300}"),), command=("layout", "design.yaml")),
    Odd("a file's name too long", "input", (("file: dem.tif", f"file: {'d' * 300}.tif"),), says="elevation"),
    Odd("a file's name with a zero byte", "design", (("file: dem.tif", r'file: "d\0em.tif"'),), says="elevation"),
    Odd("a home that nobody has", "input", (("file: dem.tif", "file: ~nobody-here/dem.tif"),)),
    Odd("a recipe that isn't there", "input", (("start_date:", "recipes: [nothing.yaml]\nstart_date:"),)),
    Odd("a recipe that is the design", "design", (("start_date:", "recipes: [design.yaml]\nstart_date:"),)),
    Odd("a huge band", "input", (("file: dem.tif", "file: dem.tif, band: 1000000000000"),)),
    Odd("no data that isn't a number", "fine", (("file: dem.tif", "file: dem.tif, nodata: .nan"),)),
    Odd("a CRS that is none", "input", (("file: field.gpkg", "file: field.gpkg, crs: hello"),)),
    Odd("a working CRS in degrees", "input", (("  elevation:", "  working_crs: EPSG:4326\n  elevation:"),)),
    Odd("a working CRS of elsewhere", "input", (("  elevation:", "  working_crs: EPSG:2193\n  elevation:"),)),
    Odd("where is nonsense", "input", (("file: field.gpkg", "file: field.gpkg, where: \"a'; drop\""),)),
    Odd("plots, a radius that isn't a number", "usage", command=("sample-plots", "design.yaml", "--radius", "nan")),
    Odd("plots, a radius of a thousandth of a millimetre", "usage", command=("sample-plots", "design.yaml", "--radius", "1e-6")),
    Odd("plots, endless radius", "usage", command=("sample-plots", "design.yaml", "--radius", "inf")),
    Odd("plots, a seed below zero", "usage", command=("sample-plots", "design.yaml", "--seed", "-1")),
    Odd("plots, precision 0", "usage", command=("sample-plots", "design.yaml", "--precision-pct", "0")),
    Odd("plots, more than all survive", "usage", command=("sample-plots", "design.yaml", "--expected-pct", "200")),
    Odd("a bed sheet for a month without plants", "usage", command=("beds", "design.yaml", "--month", "600")),
    Odd("a bed sheet for month 0", "usage", command=("beds", "design.yaml", "--month", "0")),
    Odd("rows, grades that aren't numbers", "usage", command=("rows", "design.yaml", "--grades", "nan")),
    Odd("rows, grades below zero", "usage", command=("rows", "design.yaml", "--grades", "-3")),
    Odd("new, a folder with a zero byte", "input", command=("new", "a\0b")),
    Odd("new, a name too long", "output", command=("new", "n" * 300)),
    Odd("new, where no folder can be", "output", command=("new", "/proc/x")),
    Odd("new, a file for a folder", "output", command=("new", "dem.tif")),
    Odd("a page of the guide that isn't", "input", command=("guide", "../../etc/passwd")),
    Odd("compare, no value", "usage", command=("compare", "design.yaml", "--vary", "rows.spacing_m")),
    Odd("compare, nothing at all", "usage", command=("compare", "design.yaml", "--vary", "=")),
    Odd("compare, not a number", "design", command=("compare", "design.yaml", "--vary", "rows.spacing_m=nan")),
    Odd("compare, no such key", "design", command=("compare", "design.yaml", "--vary", "a.b.c=1,2")),
    Odd("compare, 95 options", "usage", command=("compare", "design.yaml", "--vary", "rows.spacing_m=" + ",".join(map(str, range(5, 100))))),
    Odd("compare, a design that isn't there", "input", command=("compare", "design.yaml", "nothing.yaml")),
    Odd("portfolio into a file", "output", command=("portfolio", "design.yaml", "--output", "dem.tif")),
    Odd("portfolio of nothing", "input", command=("portfolio", "nothing.yaml", "--output", "pp")),
    Odd("portfolio, 30 February", "usage", command=("portfolio", "design.yaml", "--output", "pp", "--as-of", "2026-02-30")),
    Odd("watch what isn't there", "input", command=("watch", "nothing.yaml")),
    Odd("verify what isn't there", "input", command=("verify", "nothing.yaml")),
    Odd("a device for a design", "input", command=("check", "/dev/null")),
    Odd("an endless device for a design", "input", command=("check", "/dev/zero")),
    Odd("a layout into a device", "output", command=("layout", "design.yaml", "-o", "/dev/null")),
    Odd("bed sheets into a file", "output", command=("beds", "design.yaml", "-o", "dem.tif")),
    Odd("rows, no grade", "usage", command=("rows", "design.yaml", "--grades", ",")),
    Odd("rows, no such option", "usage", command=("rows", "design.yaml", "--steep")),
    Odd("no such command", "usage", command=("lay", "design.yaml")),
    Odd("no design named", "usage", command=("check",)),
    Odd("a layout that isn't there", "input", command=("report", "design.yaml")),
    Odd("survey within nothing", "usage", command=("survey", "design.yaml", "s.csv", "--within", "nan")),
    Odd("survey within less than nothing", "usage", command=("survey", "design.yaml", "s.csv", "--within", "-1")),
    Odd("a layout into a file", "output", command=("layout", "design.yaml", "-o", "dem.tif")),
    Odd("a report in no language", "usage", command=("report", "design.yaml", "--locale", "x_nonsense")),
]  # fmt: skip

ODD_DESIGNS = [*TEXTS, *VALUES]
