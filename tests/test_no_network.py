"""Nothing is fetched, whatever a file says and is called; code in files never runs. A server on loopback hears nothing."""

import socket
import sys
import threading

import numpy as np
import pytest
from input_files import EAST, FIELD, NORTH, design, slope_north, write_raster, write_vector
from shapely import LineString
from test_odd_designs import failed

from geoagro.errors import InputError
from geoagro.inputs.laid.laid_out import read_survey_counts
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.inputs.survey.file import read_survey


class Listener(threading.Thread):
    """Counts whoever knocks on a port of this machine."""

    def __init__(self):
        super().__init__(daemon=True)
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.socket.settimeout(0.2)
        self.port = self.socket.getsockname()[1]
        self.heard, self.open = 0, True

    def run(self):
        while self.open:
            try:
                caller, _ = self.socket.accept()
            except TimeoutError:
                continue
            self.heard += 1
            caller.close()
        self.socket.close()


@pytest.fixture
def ear():
    listener = Listener()
    listener.start()
    yield listener
    listener.open = False
    listener.join()


def test_the_listener_hears(ear):
    socket.create_connection(("127.0.0.1", ear.port)).close()
    for _ in range(20):
        threading.Event().wait(0.05)
        if ear.heard:
            break
    assert ear.heard == 1


VRT = """<VRTDataset rasterXSize="130" rasterYSize="120"><SRS>EPSG:32633</SRS>
<GeoTransform>{west}, 2, 0, {north}, 0, -2</GeoTransform><VRTRasterBand dataType="Float64" band="1"{kind}>{band}</VRTRasterBand>
</VRTDataset>"""
SOURCE = (
    '<SimpleSource><SourceFilename relativeToVRT="0">{name}</SourceFilename><SourceBand>1</SourceBand>'
    '<SrcRect xOff="0" yOff="0" xSize="130" ySize="120"/><DstRect xOff="0" yOff="0" xSize="130" ySize="120"/></SimpleSource>'
)


def vrt(band, kind=""):
    return VRT.format(west=EAST - 80, north=NORTH + 160, band=band, kind=kind)


def remote_rasters(url):
    tiles = f"<GDAL_WMS><Service name='TMS'><ServerUrl>{url}/${{z}}/${{x}}/${{y}}.png</ServerUrl></Service></GDAL_WMS>"
    inline = tiles.replace("<", "&lt;").replace(">", "&gt;")
    return {
        "curl": vrt(SOURCE.format(name=f"/vsicurl/{url}/a.tif")),
        "streamed": vrt(SOURCE.format(name=f"/vsicurl_streaming/{url}/a.tif")),
        "zip of curl": vrt(SOURCE.format(name=f"/vsizip//vsicurl/{url}/a.zip/a.tif")),
        "plain url": vrt(SOURCE.format(name=f"{url}/a.tif")),
        "tiles inline": vrt(SOURCE.format(name=inline)),
        "service": vrt(SOURCE.format(name=f"WMS:{url}?layers=a")),
        "coverage": vrt(SOURCE.format(name=f"WCS:{url}?coverage=a")),
        "tiles": tiles,
        "coverages": f"<WCS_GDAL><ServiceURL>{url}/?</ServiceURL><CoverageName>a</CoverageName></WCS_GDAL>",
        "tile map": f"<WMT_MS_Capabilities><Service><OnlineResource href='{url}'/></Service></WMT_MS_Capabilities>",
        "catalogue": f'{{"type": "Feature", "stac_version": "1.0.0", "assets": {{"a": {{"href": "{url}/a.tif"}}}}}}',
        "pipeline": f'{{"type": "gdal_streamed_alg", "command_line": "gdal raster read {url}/a.tif"}}',
        "entity": f'<!DOCTYPE a [<!ENTITY x SYSTEM "{url}/x">]>' + vrt(SOURCE.format(name="&x;")),
        "cache": f"<MRF_META><CachedSource><Source>/vsicurl/{url}/a.tif</Source></CachedSource></MRF_META>",
    }


@pytest.mark.parametrize("kind", list(remote_rasters("")))
@pytest.mark.parametrize("name", ["dem.tif", "dem.vrt", "dem.xml"])
def test_a_raster_that_points_elsewhere_is_refused_and_nobody_is_asked(tmp_path, ear, kind, name):
    (tmp_path / name).write_text(remote_rasters(f"http://127.0.0.1:{ear.port}")[kind])
    asked = design(tmp_path, elevation={"file": name, "crs": "EPSG:32633"})
    with pytest.raises(InputError, match=r"inputs\.elevation \(dem\.\w+\)"):
        read_ground_source(asked, read_site(asked))
    assert ear.heard == 0


@pytest.mark.parametrize("name", ["field.geojson", "field.gml", "field.kml", "field.gpkg", "field.xyz"])
@pytest.mark.parametrize("kind", ["virtual", "features", "pages", "catalogue", "pipeline", "capabilities", "schema"])
def test_a_vector_file_that_points_elsewhere_is_refused_and_nobody_is_asked(tmp_path, ear, kind, name):
    url = f"http://127.0.0.1:{ear.port}"
    texts = {
        "virtual": f'<OGRVRTDataSource><OGRVRTLayer name="a"><SrcDataSource>/vsicurl/{url}/a.gpkg</SrcDataSource>'
        "</OGRVRTLayer></OGRVRTDataSource>",
        "features": f"<OGRWFSDataSource><URL>{url}</URL></OGRWFSDataSource>",
        "pages": f'{{"links": [{{"rel": "data", "href": "{url}/collections"}}], "collections": []}}',
        "catalogue": f'{{"type": "Catalog", "stac_version": "1.0.0", "links": [{{"href": "{url}"}}]}}',
        "pipeline": f'{{"type": "gdal_streamed_alg", "command_line": "gdal vector read {url}/a.json"}}',
        "capabilities": f'<wfs:WFS_Capabilities xmlns:wfs="w"><a href="{url}"/></wfs:WFS_Capabilities>',
        "schema": f'<?xml version="1.0"?><wfs:FeatureCollection xmlns:wfs="http://www.opengis.net/wfs" '
        f'xmlns:gml="http://www.opengis.net/gml" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
        f'xsi:schemaLocation="http://a {url}/a.xsd"></wfs:FeatureCollection>',
    }
    (tmp_path / name).write_text(texts[kind])
    with pytest.raises(InputError, match=r"inputs\.boundary \(field\.\w+\)"):
        read_site(design(tmp_path, boundary={"file": name, "crs": "EPSG:32633"}))
    assert ear.heard == 0


def test_a_file_named_like_a_service_is_a_file(tmp_path, ear, monkeypatch):
    monkeypatch.chdir(tmp_path)
    name = f"WFS:127.0.0.1:{ear.port}"
    (tmp_path / name).write_text("x")
    write_raster(tmp_path / "dem.tif", slope_north())
    with pytest.raises(InputError, match="WFS"):
        read_site(design(tmp_path.relative_to(tmp_path), boundary={"file": name}))
    assert ear.heard == 0


def test_code_in_a_virtual_raster_never_runs(tmp_path, monkeypatch):
    monkeypatch.setenv("GDAL_VRT_ENABLE_PYTHON", "YES")
    code = f"def f(*a): open({str(tmp_path / 'ran')!r}, 'w')"
    function = (
        f"<PixelFunctionType>f</PixelFunctionType><PixelFunctionLanguage>Python</PixelFunctionLanguage>"
        f"<PixelFunctionCode><![CDATA[{code}]]></PixelFunctionCode>"
    )
    write_raster(tmp_path / "true.tif", slope_north())
    source = SOURCE.format(name=tmp_path / "true.tif")
    (tmp_path / "dem.vrt").write_text(vrt(function + source, ' subClass="VRTDerivedRasterBand"'))
    asked = design(tmp_path, elevation={"file": "dem.vrt"})
    with pytest.raises(InputError, match="holds program code"):
        read_ground_source(asked, read_site(asked))
    (tmp_path / "dem.vrt").write_text(
        vrt("<PixelFunctionType>os.system</PixelFunctionType>" + source, ' subClass="VRTDerivedRasterBand"')
    )
    with pytest.raises(InputError, match="holds program code"):
        read_ground_source(asked, read_site(asked))
    assert not (tmp_path / "ran").exists()
    assert "ran" not in sys.modules


def test_a_sound_virtual_raster_is_read_and_a_missing_tile_named(tmp_path):
    write_vector(tmp_path / "field.gpkg", [FIELD])
    write_raster(tmp_path / "west.tif", slope_north())
    relative = SOURCE.replace('relativeToVRT="0"', 'relativeToVRT="1"')
    (tmp_path / "dem.vrt").write_text(vrt(relative.format(name="west.tif")))
    asked = design(tmp_path, elevation={"file": "dem.vrt"})
    assert np.isfinite(read_ground_source(asked, read_site(asked)).heights.values).all()
    (tmp_path / "dem.vrt").write_text(vrt(relative.format(name="west.tif") + relative.format(name="east.tif")))
    with pytest.raises(InputError, match=r"its source east\.tif isn't there"):
        read_ground_source(asked, read_site(asked))
    (tmp_path / "dem.vrt").write_text(vrt(relative.format(name="dem.vrt")))
    with pytest.raises(InputError, match="virtual rasters in virtual rasters"):
        read_ground_source(asked, read_site(asked))


def wrappers(url):
    """Texts that point elsewhere, each as somebody may name it."""
    return {
        "w.gpkg": f"<OGRWFSDataSource><URL>{url}</URL></OGRWFSDataSource>",
        "w.csv": f'<OGRVRTDataSource><OGRVRTLayer name="a"><SrcDataSource>/vsicurl/{url}/a.gpkg</SrcDataSource>'
        "</OGRVRTLayer></OGRVRTDataSource>",
        "w.geojson": f'{{"type": "Catalog", "stac_version": "1.0.0", "links": [{{"href": "{url}"}}]}}',
        "w.tif": f"<GDAL_WMS><Service name='TMS'><ServerUrl>{url}/${{z}}/${{x}}/${{y}}.png</ServerUrl></Service></GDAL_WMS>",
    }


PLACES = {
    "boundary": "boundary: {file: W, crs: 'EPSG:32633'}, elevation: {file: dem.tif}",
    "exclusions": "exclusions: [{file: W, name: a, buffer_m: 1}]",
    "tracks": "tracks: [{file: W, name: a, width_m: 3}]",
    "guides": "guides: [{file: W}]",
    "areas": "areas: [{file: W, name: a}]",
    "water_bodies": "water_bodies: [{file: W, name: a}]",
    "outlets": "outlets: [{file: W}]",
    "rows": "rows: {file: W}",
    "contours": "boundary: {file: field.gpkg}, contours: {file: W, height_field: elev}",
    "slope": "boundary: {file: field.gpkg}, slope: {file: W}",
    "aspect": "boundary: {file: field.gpkg}, slope: {file: dem.tif}, aspect: {file: W}",
}


@pytest.mark.parametrize("name", list(wrappers("")))
@pytest.mark.parametrize("place", [*PLACES, "rows.outlet", "rows.only_where"])
def test_in_no_place_of_a_design_is_anybody_asked(tmp_path, ear, monkeypatch, place, name):
    monkeypatch.chdir(tmp_path)
    (tmp_path / name).write_text(wrappers(f"http://127.0.0.1:{ear.port}")[name])
    write_vector(tmp_path / "field.gpkg", [FIELD])
    write_raster(tmp_path / "dem.tif", slope_north(), units="m")
    inputs = PLACES.get(place, "rows: {file: lines.gpkg}").replace("W", name)
    if "boundary" not in inputs:
        inputs = "boundary: {file: field.gpkg}, elevation: {file: dem.tif}, " + inputs
    rows = f"rows: {{{place[5:]}: {{file: {name}}}}}\n" if place.startswith("rows.") else ""
    write_vector(tmp_path / "lines.gpkg", [LineString([(EAST + 1, NORTH + 5), (EAST + 30, NORTH + 5)])])
    (tmp_path / "design.yaml").write_text(f"name: a\ninputs: {{{inputs}}}\n{rows}")
    failure = failed(("check", "design.yaml"))
    assert failure is not None
    assert failure.kind == "input", failure.words()
    assert f"{place}" in failure.words()
    assert name in failure.words()
    assert ear.heard == 0


@pytest.mark.parametrize("name", list(wrappers("")))
def test_no_survey_layout_or_layer_of_fields_asks_anybody(tmp_path, ear, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    text = wrappers(f"http://127.0.0.1:{ear.port}")[name]
    write_vector(tmp_path / "field.gpkg", [FIELD])
    write_raster(tmp_path / "dem.tif", slope_north(), units="m")
    for file in (name, "layout.gpkg", "surveys/one.gpkg"):
        (tmp_path / file).parent.mkdir(exist_ok=True)
        (tmp_path / file).write_text(text)
    asked = design(tmp_path)
    (tmp_path / "design.yaml").write_text(
        "name: a\ninputs: {boundary: {file: field.gpkg}, elevation: {file: dem.tif}}\n"
    )
    for read in (
        lambda: read_survey(tmp_path / name, read_site(asked), what="plants"),
        lambda: read_layout_file(tmp_path),
        lambda: read_survey_counts(tmp_path / "surveys"),
    ):
        with pytest.raises(InputError):
            read()
    assert failed(("batch", name, "--design", "design.yaml", "-o", "many")).kind == "input"
    assert ear.heard == 0
