from click.testing import CliRunner

from geoagro.cli.main import group, main

DESIGN = """
name: invented plot
inputs: {{boundary: {{file: none.gpkg}}, elevation: {{file: none.tif}}}}
crops: {{cassava: {{sole_yield_t_per_ha: 20}}}}
plantings:
  - {{crop: cassava, bed: vegetable, offsets_m: [0], spacing_m: 0.6, direction: along}}
  - {{crop: taro, bed: vegetable, beside: {{planting: cassava, distance_m: 0.25}}}}
  - {{crop: {tree}, bed: tree}}
"""


def run(tmp_path, tree="coffee", *options):
    (tmp_path / "design.yaml").write_text(DESIGN.format(tree=tree))
    return CliRunner().invoke(group, ["beds", str(tmp_path / "design.yaml"), *options])


def test_it_draws_each_bed_and_says_what_to_mind_without_any_field(tmp_path):
    result = run(tmp_path, "coffee", "--month", "3")
    assert result.exit_code == 0, result.output
    folder = tmp_path / "result" / "beds"
    assert {path.name for path in folder.glob("*.png")} == {"bed_1.png", "bed_2.png", "recipe.png"}
    assert "taro shares" in result.output
    assert "cassava: Never eat cassava raw." in result.output
    assert "(5 on bare ground)" in result.output
    assert "Land equivalent ratio of the crops that bear" in result.output


def test_an_unknown_crop_ends_with_a_message_and_writes_nothing(tmp_path, monkeypatch, capsys):
    (tmp_path / "design.yaml").write_text(DESIGN.format(tree="coffe"))
    monkeypatch.setattr("sys.argv", ["geoagro", "beds", str(tmp_path / "design.yaml")])
    try:
        main()
    except SystemExit as stop:
        assert stop.code == 3
    assert "Did you mean coffee" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["design.yaml"]
