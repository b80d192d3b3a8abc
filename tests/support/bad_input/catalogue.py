"""Catalogues of one's own that cannot be used, and names that neither they nor the built-in ones have."""

from tests.support.bad_input.table import Case, changed, request

SCHEMA = 'schema = "darkfill-request/1"'
NAMED = 'catalogue = "mine.csv"'
PLACE = "ra_deg = 52.297\ndec_deg = 31.31"
HEADER = "name,aliases,ra,dec\n"
GOOD = "Cradle,NGC 1333,03h28m55s,+31d22m12s\n"


def catalogue(
    text: str | bytes, *swaps: tuple[str, str], asked: str = "cradle", name: str = "mine.csv"
) -> dict[str, str | bytes | None]:
    """A request whose target is found by its object in mine.csv, beside a file of that or another name."""
    files = request((SCHEMA, f"{SCHEMA}\n{NAMED}"), (PLACE, f'object = "{asked}"'))
    return {"request.toml": changed(str(files["request.toml"]), *swaps), name: text}


def rows(text: str, asked: str = "cradle") -> dict[str, str | bytes | None]:
    """A good request whose catalogue holds a good row, and these."""
    return catalogue(f"{HEADER}{GOOD}{text}\n", asked=asked)


# fmt: off
CATALOGUE = [
    Case("catalogue_missing", catalogue(HEADER + GOOD, name="mina.csv"), """
    request.toml:2: catalogue = "mine.csv": mine.csv: there is no such file; did you mean mina.csv?
    """),
    Case("catalogue_outside", catalogue(HEADER + GOOD, (NAMED, NAMED.replace("mine", "../mine"))), """
    request.toml:2: catalogue = "../mine.csv": this file lies outside the folder of the request; move it
        there, or allow it with --include-outside
    """),
    Case("catalogue_is_a_number", catalogue(HEADER + GOOD, (NAMED, "catalogue = 7")), """
    request.toml:2: catalogue = 7: this is not the name of a file; write it like catalogue = "mine.csv"
    """),
    Case("catalogue_misspelt", {**request((SCHEMA, f"{SCHEMA}\n{NAMED.replace('logue', 'log')}"))}, """
    request.toml:2: catalog = "mine.csv": this key is not known here; did you mean catalogue?
    """),
    Case("catalogue_in_a_table", {**request(("[site]\n", f"[site]\n{NAMED}\n"))}, """
    request.toml:7: site.catalogue = "mine.csv": this key is not known here; it belongs to the top
        of the file: move it above [site]
    """),
    Case("catalogue_empty", catalogue("\n"), """
    request.toml:2: catalogue = "mine.csv": mine.csv: the file is empty; write the catalogue, beginning with
        name,aliases,ra,dec into it
    """),
    Case("catalogue_without_rows", catalogue(HEADER), """
    mine.csv: the file holds no object; write a line like Pelican,IC 5070; my
        pelican,20h51m01s,+44d24m05s
    """),
    Case("catalogue_too_large", catalogue(HEADER + GOOD + " " * 5_000_000), """
    request.toml:2: catalogue = "mine.csv": mine.csv: the file is larger than 5 MB; check that it holds the
        catalogue, beginning with name,aliases,ra,dec
    """),
    Case("catalogue_in_latin_1", catalogue((HEADER + "Ñandú,,1h,2d\n").encode("latin-1")), """
    mine.csv:2: the byte 0xD1 is not UTF-8 text; save the file with the encoding UTF-8
    """),
    Case("catalogue_without_header", catalogue(GOOD), """
    mine.csv:1: the header with the names of the columns is missing; the first line must be:
        name,aliases,ra,dec
    """),
    Case("catalogue_with_semicolons", catalogue((HEADER + GOOD).replace(",", ";")), """
    mine.csv:1: the columns are separated by semicolons; save the file with commas between the columns
    """),
    Case("catalogue_lacks_a_column", catalogue("name,ra,size\nCradle,03h28m55s,20\n"), """
    mine.csv:1: the header lacks aliases and dec and has the unknown "size"; the first line must be:
        name,aliases,ra,dec
    """),
    Case("catalogue_misspelt_aliases", catalogue("name,alias,ra,dec\n" + GOOD), """
    mine.csv:1: the header lacks aliases and has the unknown "alias" (did you mean aliases?); the first line
        must be: name,aliases,ra,dec
    """),
    Case("catalogue_column_twice", catalogue("name,aliases,ra,dec,RA\n" + GOOD), """
    mine.csv:1: the header has ra twice; the first line must be: name,aliases,ra,dec
    """),
    Case("catalogue_quote_left_open", rows('"Squid,,1h,2d'), """
    mine.csv:3: a cell in double quotes is not closed, or goes on after its closing quote; write " inside a
        quoted cell twice
    """),
    Case("catalogue_rows_of_many_faults", rows(
        ',,1h,2d\nA 1,,,+2d\nB 2,,"20,5",+2d\nB 3,,24:00:00,+91\nB 4,,20h,2h\nB 5,,somewhere,+2d61m\n'
        "B 6,,20h,+2d,5\nB 7,,-3,\nB 8,,20h51,+44,401"), """
    mine.csv:3: name: the cell is empty; write the name of the object
    mine.csv:4: ra: the cell is empty; write it like 20h51m01s, 20:51:01 or, in degrees, 312.754
    mine.csv:5: ra = "20,5": a comma does not mark decimals; write 20.5
    mine.csv:6: ra = "24:00:00": out of range; give at least 0 and less than 24h or 360 degrees
    mine.csv:6: dec = "+91": out of range; give degrees from -90 to 90
    mine.csv:7: dec = "2h": only right ascensions are counted in hours; write it like "+31d18m36s"
    mine.csv:8: ra = "somewhere": this is not an angle; write it like "03h29m11s" or "52.297d"
    mine.csv:8: dec = "+2d61m": minutes and seconds must be below 60; carry the rest over to the number before
    mine.csv:9: "5": the row has 5 cells, the header has 4; check for a comma too many, and put text with a
        comma in double quotes: "a, b"
    mine.csv:10: ra = "-3": out of range; give at least 0 and less than 24h or 360 degrees
    mine.csv:10: dec: the cell is empty; write it like +44d24m05s, +44:24:05 or +44.401
    mine.csv:11: "401": the row has 5 cells, the header has 4; check for a comma too many, and put text with a
        comma in double quotes: "a, b"
    """),
    Case("catalogue_names_twice", rows("Squid,cradle|Ou 4,1h,2d\nngc1333,,1h,2d\nOU 4,,1h,2d"), """
    mine.csv:3: aliases = "cradle": line 2 has this name already ("Cradle"); keep one of the two
    mine.csv:4: name = "ngc1333": line 2 has this name already ("Cradle"); keep one of the two
    mine.csv:5: name = "OU 4": line 3 has this name already ("Squid"); keep one of the two
    """),
    Case("catalogue_odd_names", rows('"Squid\x07",,1h,2d\n' + "x" * 301 + ",,1h,2d"), """
    mine.csv:3: name = "Squid\\u0007": the text holds the control character U+0007; remove it
    mine.csv:4: name = "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...": the text has 301
        characters; shorten it to at most 300
    """),
    Case("catalogue_lacks_the_object", rows("", "craddle"), """
    request.toml:20: targets[0].object = "craddle" (target "Cradle Nebula"): neither mine.csv nor the offline
        catalogue (OpenNGC) has it; did you mean "Cradle"? Else add ra_deg and dec_deg
    """),
    Case("catalogue_lacks_the_designation", rows("", "vdb13"), """
    request.toml:20: targets[0].object = "vdb13" (target "Cradle Nebula"): this is vdB 13 of van den Bergh's
        catalogue of reflection nebulae, whose place no catalogue installed here has; add ra_deg and dec_deg,
        or put it into mine.csv with its place (ICRS): name,ra,dec in the first line,
        vdB 13,HHhMMmSSs,+DDdMMmSSs below
    """),
    Case("designation_without_a_place", request((PLACE, 'object = "Ldn1251"')), """
    request.toml:19: targets[0].object = "Ldn1251" (target "Cradle Nebula"): this is LDN 1251 of Lynds'
        catalogue of dark nebulae, whose place no catalogue installed here has; add ra_deg and dec_deg, or put
        it into a CSV file of your own, named at the top of the request like catalogue = "mine.csv", with its
        place (ICRS): name,ra,dec in the first line, LDN 1251,HHhMMmSSs,+DDdMMmSSs below
    """),
]
