"""Which night a request is about, as far as its raw data says."""

from __future__ import annotations

from pydantic import ValidationError

from optimizer.diagnostics.document import Document
from optimizer.models.site import Night, Site
from optimizer.words import KeyPath

_SITE_KEYS = ("longitude", "longitude_deg", "time_zone")


def night_asked(document: Document, request_at: KeyPath = ()) -> tuple[Night, Site] | None:
    """Read the evening, the site's longitude and its time zone; None where one of them cannot be used.

    All other keys of the two are those that any night and site could have.
    """
    night, site = (document.value((*request_at, key)) for key in ("night", "site"))
    if not isinstance(night, dict) or not isinstance(site, dict):
        return None
    place = {key: site[key] for key in _SITE_KEYS if key in site}
    try:
        return (
            Night.model_validate({"evening": night.get("evening")}),
            Site.model_validate({"latitude_deg": 0, "floor_deg": 0, **place}),
        )
    except ValidationError:
        return None
