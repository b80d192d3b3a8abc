"""Requests that cannot be read at all, or not with what they include."""

from tests.support.bad_input.table import FOLDER, GOOD, Case, changed

SITE = "[site]\nlatitude_deg = 38.92\nlongitude_deg = -3.11\nfloor_deg = 25\n"
REST = changed(GOOD, (SITE + "\n", ""))


def including(names: str, **others: str | bytes | None) -> dict[str, str | bytes | None]:
    """A request whose site comes from the included files; `a__b_toml` is the file a/b.toml."""
    files: dict[str, str | bytes | None] = {"request.toml": f"include = {names}\n{REST}"}
    for name, text in others.items():
        folder, _, stem = name.rpartition("__")
        files[f"{folder}/{stem}".lstrip("/").replace("_", ".")] = text
    return files


def skyline(name: str, text: str) -> dict[str, str | bytes | None]:
    """A request whose skyline is asked for under a name, beside a file horizon.txt that holds it."""
    whole = changed(GOOD, ("floor_deg = 25", f'floor_deg = 25\nskyline = "{name}"'))
    return {"request.toml": whole, "horizon.txt": text}


# fmt: off
FILES = [
    Case("file_empty", {"request.toml": ""}, """
    request.toml: the file is empty; write the request into it
    """),
    Case("file_blank", {"request.toml": "\n \n"}, """
    request.toml: the file is empty; write the request into it
    """),
    Case("file_with_comments_only", {"request.toml": "# tonight\n"}, """
    request.toml: schema: missing; begin with schema = "darkfill-request/1"
    request.toml: night: missing; add [night] with at least evening
    request.toml: site: missing; add [site] with at least latitude_deg, longitude_deg and floor_deg
    request.toml: filters: missing; add at least one [[filters]] block
    request.toml: targets: missing; add at least one [[targets]] block
    """),
    Case("file_is_a_folder", {"request.toml": FOLDER}, """
    request.toml: this is a folder, not a file; name the file in it that holds the request
    """),
    Case("file_in_latin_1", {"request.toml": GOOD.replace("Cradle", "Crèche").encode("latin-1")}, """
    request.toml:18: the byte 0xE8 is not UTF-8 text; save the file with the encoding UTF-8
    """),
    Case("file_in_utf_16", {"request.toml": GOOD.encode("utf-16")}, """
    request.toml: the file is written in UTF-16; save it with the encoding UTF-8
    """),
    Case("file_with_unknown_ending", {"request.yaml": GOOD}, """
    request.yaml: the ending .yaml is not known; name the request .toml (written by hand) or .json
        (written by a program)
    """),
    Case("file_without_ending", {"request": GOOD}, """
    request: the name has no ending; name the request .toml (written by hand) or .json (written by a
        program)
    """),
    Case("include_missing", including('["sit.toml"]', site_toml=SITE), """
    request.toml:1: include[0] = "sit.toml": sit.toml: there is no such file; did you mean site.toml?
    """),
    Case("include_is_text", including('"site.toml"', site_toml=SITE), """
    request.toml:1: include = "site.toml": this is not a list of file names; write include =
        ["site.toml"]
    """),
    Case("include_of_a_number", including('[3, "site.toml"]', site_toml=SITE), """
    request.toml:1: include[0] = 3: this is not the name of a file; write it like include =
        ["site.toml"]
    """),
    Case("include_outside", {"request.toml": f'include = ["../site.toml"]\n{REST}'}, """
    request.toml:1: include[0] = "../site.toml": this file lies outside the folder of the request; move
        it there, or allow it with --include-outside
    """),
    Case("include_absolute", {"request.toml": f'include = ["/site.toml"]\n{REST}'}, """
    request.toml:1: include[0] = "/site.toml": this file lies outside the folder of the request; move it
        there, or allow it with --include-outside
    """),
    Case("include_of_itself", including('["site.toml"]', site_toml='include = ["request.toml"]\n' + SITE), """
    site.toml:1: include[0] = "request.toml": the files include one another in a circle: request.toml ->
        site.toml -> request.toml; remove one of the includes
    """),
    Case("include_in_a_circle",
        including('["a.toml"]', a_toml='include = ["b.toml"]\n' + SITE, b_toml='include = ["a.toml"]\n'), """
    b.toml:1: include[0] = "a.toml": the files include one another in a circle: a.toml -> b.toml ->
        a.toml; remove one of the includes
    """),
    Case("include_with_bad_value",
        including('["parts/site.toml"]', parts__site_toml=changed(SITE, ("38.92", "98"))), """
    parts/site.toml:2: site.latitude_deg = 98 [degrees]: too large; give a number of degrees from -90 to
        90 (geodetic, north positive)
    """),
    Case("include_with_bad_syntax",
        including('["site.toml"]', site_toml=changed(SITE, ("38.92", "38,92"))), """
    site.toml:2: latitude_deg = 38,92: a comma does not mark decimals; use a point: 38.92
    """),
    Case("include_empty", including('["site.toml"]', site_toml=""), """
    request.toml:1: include[0] = "site.toml": site.toml: the file is empty; write the included part into
        it
    """),
    Case("include_of_a_shot_list",
        including('["site.toml"]', site_toml='schema = "darkfill-shots/1"\n' + SITE), """
    site.toml:1: schema = "darkfill-shots/1": this is no part of a request; write schema =
        "darkfill-request/1", or leave the key out of included files
    """),
    Case("include_of_unknown_ending", including('["site.txt"]'), """
    request.toml:1: include[0] = "site.txt": site.txt: the ending .txt is not known; name the included
        part .toml (written by hand) or .json (written by a program)
    """),
    Case("include_missing_and_more_wrong",
        {"request.toml": 'include = ["rig.toml"]\n' + changed(REST, ("120", "-120"),
            ('[[filters]]\nname = "L"\n', ""))}, """
    request.toml:1: include[0] = "rig.toml": rig.toml: there is no such file; check the name and the
        folder
    request.toml:18: targets[0].goals[0].exposure_s = -120 [seconds] (1st goal of target "Cradle
        Nebula"): too small; give a number of seconds, above 0 and at most 86400 (open-shutter time
        of one sub)
    """),
    Case("merged_from_two_files",
        {"request.toml": 'include = ["a.json"]\n' + REST + "[site]\nlongitude_deg = 400\n",
            "a.json": '{"site": {"latitude_deg": 98,\n "longitude_deg": 300}}'}, """
    request.toml:22: site.floor_deg: missing; add floor_deg = 25 (degrees, no shutter open below this
        altitude)
    request.toml:23: site.longitude_deg = 400 [degrees]: too large; give a number of degrees from -180
        to 180 (east positive)
    a.json:1: site.latitude_deg = 98 [degrees]: too large; give a number of degrees from -90 to 90
        (geodetic, north positive)
    """),
    Case("skyline_file_missing", skyline("horizn.txt", "0 12"), """
    request.toml:10: site.skyline = "horizn.txt": horizn.txt: there is no such file; did you mean
        horizon.txt?
    """),
    Case("skyline_file_with_bad_rows", skyline("horizon.txt", "azimuth altitude\n0 12\n90\n80, 95"), """
    horizon.txt:3: "90" is no pair of numbers; write azimuth and altitude in degrees, like 90, 25
    horizon.txt:4: site.skyline[1][1] = 95.0 (2nd pair): too large; give a number from -5 to 90
    """),
    Case("skyline_file_outside", skyline("../horizon.txt", "0 12"), """
    request.toml:10: site.skyline = "../horizon.txt": this file lies outside the folder of the request;
        move it there, or allow it with --include-outside
    """),
]
