"""The clinic that does not exist: what it does, to whom, with whom. Every figure here is invented;
doses and physiology, which are not, stand in the modules that use them."""

from typing import NamedTuple

NAME = "Ahlenquell Teaching Animal Hospital (invented)"
ZONE = "Europe/Berlin"
MINUTES_PER_MARK = 30
ABSORBENT_GRAMS = 900

SPECIES_SHARES = {"dog": 0.63, "cat": 0.30, "rabbit": 0.07}

# Caseload through the year: quiet in summer and at the turn of the year.
SEASON = (0.92, 1.08, 1.08, 1.06, 1.04, 1.00, 0.90, 0.86, 1.05, 1.06, 1.00, 0.86)
DENTAL_MONTH, DENTAL_MORE = 2, 1.9


class Breed(NamedTuple):
    name: str
    species: str
    share: float
    kg: float
    spread: float


BREEDS = (
    Breed("mixed breed", "dog", 30, 16, 0.55),
    Breed("labrador retriever", "dog", 9, 31, 0.14),
    Breed("german shepherd", "dog", 6, 34, 0.14),
    Breed("golden retriever", "dog", 5, 31, 0.13),
    Breed("bernese mountain dog", "dog", 3, 43, 0.13),
    Breed("boxer", "dog", 3, 29, 0.12),
    Breed("border collie", "dog", 4, 19, 0.14),
    Breed("beagle", "dog", 4, 14, 0.15),
    Breed("french bulldog", "dog", 8, 12.5, 0.13),
    Breed("dachshund", "dog", 7, 8.2, 0.2),
    Breed("jack russell terrier", "dog", 7, 7, 0.17),
    Breed("miniature poodle", "dog", 4, 7.2, 0.2),
    Breed("yorkshire terrier", "dog", 6, 3.6, 0.22),
    Breed("chihuahua", "dog", 5, 2.9, 0.2),
    Breed("domestic shorthair", "cat", 70, 4.3, 0.19),
    Breed("domestic longhair", "cat", 8, 4.6, 0.19),
    Breed("british shorthair", "cat", 9, 5.1, 0.17),
    Breed("maine coon", "cat", 8, 6.2, 0.18),
    Breed("siamese", "cat", 5, 3.8, 0.15),
    Breed("dwarf", "rabbit", 40, 1.5, 0.18),
    Breed("lop", "rabbit", 30, 2.2, 0.18),
    Breed("mixed breed", "rabbit", 22, 2.7, 0.22),
    Breed("giant", "rabbit", 8, 5.2, 0.15),
)

# Share of ASA classes 1 to 5 by how ill the patients of a procedure are.
ASA_SHARES = {
    "healthy": (0.86, 0.13, 0.01, 0.0, 0.0),
    "mild": (0.25, 0.555, 0.175, 0.02, 0.0),
    "mixed": (0.11, 0.43, 0.345, 0.105, 0.01),
    "sick": (0.02, 0.18, 0.43, 0.31, 0.06),
    "grave": (0.0, 0.03, 0.32, 0.47, 0.18),
}


class Procedure(NamedTuple):
    """weights: how often in dogs, cats, rabbits; minutes: median; cooling: heat lost against a
    closed, dry procedure; age: median years; sex: '' where it does not matter."""

    name: str
    group: str
    weights: tuple[float, float, float]
    minutes: int
    illness: str
    emergency: float
    cooling: float
    pain: int
    age: float
    sex: str = ""


PROCEDURES = (
    Procedure("ovariohysterectomy", "soft_tissue", (8, 9, 6), 45, "healthy", 0, 1.25, 2, 1.2, "female"),
    Procedure("castration", "soft_tissue", (6, 8, 9), 20, "healthy", 0, 0.9, 1, 1.1, "male"),
    Procedure("mass removal", "soft_tissue", (8, 4, 4), 50, "mild", 0, 1.0, 1, 8.5),
    Procedure("exploratory laparotomy", "soft_tissue", (5, 4.5, 2.5), 80, "sick", 0.45, 1.45, 2, 6),
    Procedure("cystotomy", "soft_tissue", (2, 3, 2), 60, "sick", 0.25, 1.35, 2, 6),
    Procedure("splenectomy", "soft_tissue", (2.5, 0.3, 0), 80, "sick", 0.4, 1.4, 2, 9),
    Procedure("gastric torsion repair", "soft_tissue", (1.8, 0, 0), 95, "grave", 0.95, 1.45, 2, 7.5),
    Procedure("wound repair", "soft_tissue", (3, 3, 1.5), 40, "mild", 0.4, 1.0, 1, 4),
    Procedure("dental cleaning", "dental", (11, 6, 3), 45, "mild", 0, 1.1, 0, 8),
    Procedure("dental extraction", "dental", (8, 10, 6), 75, "mild", 0, 1.15, 1, 8.5),
    Procedure("cruciate repair", "orthopedic", (7, 0.4, 0), 110, "mild", 0, 1.0, 2, 6),
    Procedure("fracture repair", "orthopedic", (4, 3.5, 1.5), 130, "mixed", 0.1, 1.05, 2, 3.5),
    Procedure("amputation", "orthopedic", (1.2, 1.2, 0.6), 85, "mixed", 0.08, 1.1, 2, 6),
    Procedure("computed tomography", "imaging", (6, 3, 4), 30, "mixed", 0.05, 0.9, 0, 8),
    Procedure("magnetic resonance imaging", "imaging", (5, 1.5, 0.3), 60, "mixed", 0.08, 1.05, 0, 7),
    Procedure("endoscopy", "imaging", (3, 2.2, 0), 40, "mixed", 0.2, 0.9, 0, 6),
    Procedure("enucleation", "ophthalmic", (1.6, 1.2, 1), 55, "mild", 0.05, 0.95, 1, 8),
    Procedure("corneal repair", "ophthalmic", (1.6, 1, 0.7), 60, "mild", 0.2, 0.95, 1, 6),
    Procedure("cataract removal", "ophthalmic", (1.6, 0.1, 0.1), 90, "mild", 0, 0.95, 1, 8.5),
    Procedure("hemilaminectomy", "neurologic", (3.2, 0.2, 0), 140, "mixed", 0.35, 1.05, 2, 6),
    Procedure("cesarean section", "obstetric", (1.4, 0.5, 0), 55, "mixed", 0.85, 1.3, 2, 3.5, "female"),
    Procedure("skin biopsy", "other", (1.5, 1, 0.7), 20, "mild", 0, 0.85, 0, 6),
    Procedure("feeding tube placement", "other", (0.4, 1.4, 0.3), 25, "sick", 0.1, 0.9, 0, 8),
)

# Codes only: N nurses who give anesthetics, S supervising specialists, R residents, T students.
NURSES = tuple(f"N{n:02d}" for n in range(1, 8))
SUPERVISORS = ("S01", "S02", "S03")
# Resident, the months (from the first of the record) in training there.
RESIDENTS = (("R01", 0, 9), ("R02", 0, 24), ("R03", 0, 99), ("R04", 8, 99), ("R05", 20, 99))
MONTHS_TRAINED_BEFORE = {"R01": 27, "R02": 12, "R03": 2}
STUDENTS_AT_A_TIME, ROTATION_DAYS = 3, 28


def site_names(sites: int) -> list[str]:
    """Codes of the invented sites."""
    return ["ahlenquell", *(f"ahlenquell_{n}" for n in range(2, sites + 1))]
