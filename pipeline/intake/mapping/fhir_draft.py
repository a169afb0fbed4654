"""Whether a file holds HL7 FHIR resources, told by its first bytes."""

import re
from pathlib import Path

from pipeline.intake.encodings import decode


def is_fhir(path: Path) -> bool:
    from pipeline.intake import contents

    if contents.kind_of(contents.head_of(path)) not in ("json", "gzip", "zstandard"):
        return False
    return re.search(r'"resourceType"\s*:', decode(path).head(4096)) is not None
