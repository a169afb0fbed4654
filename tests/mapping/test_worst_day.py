"""The worst day: fifteen faults in the files of one export, drafted by `rounds map`, loaded without a lost row.

F1 F3 F6 F7 F10 N3 P1 P8 T1 T7 V1 V3 V5 D4 E1 together.
"""

CASES = """\
Narkosebuch März 2026
gedruckt am 01.04.2026

Fall-Nr.;Tierart / Species;Gewicht / Weight (kg);ASA;Einleitung;Extubation;Rasse
B01;Hd.;12,4;II-E;05/03/2026 22:04;05/03/2026 00:19;Dackel „kurz“
B02;Ktz.;4200;iii;16/03/2026 09:10;16/03/2026 10:05;EKH
B03;Hund;27,5;2-3;17/03/2026 09:10;17/03/2026 10:05;Boxer
Gesamt;;75;;;;
"""
MONITOR = """\
Fall-Nr.;Datum;Uhrzeit;HF;etCO2;SpO2;Temperatur
;;;/min;mmHg;%;
B01;05.03.2026;22:10;92;38;98;21,4
B01;05.03.2026;23:55;94;0;98;37,2
B01;05.03.2026;00:10;96;41;97;98,6
Seite 1 von 1;;;;;;
"""
DRUGS = """\
Fall-Nr.;Wirkstoff;Dosis;Einheit;Gabezeit
B01;Methadon HCl;0,2;mg/kg;05.03.2026 21:30
B01;Fentanyl;5;µg/kg;05.03.2026 22:20
B02;Ketamin;5;;16.03.2026 09:05
"""
EVENTS = """\
Fall-Nr.;Komplikation;aufgetreten um
B01;Hypotonie;05.03.2026 22:40
B02;keine Hypotonie, RR gut;16.03.2026 09:40
"""


def test_worst_day(bench):
    files = {
        "narkosebuch_2026-03.csv": CASES,
        "monitor_2026-03.csv": MONITOR,
        "gaben_2026-03.csv": DRUGS,
        "ereignisse_2026-03.csv": EVENTS,
    }
    files = {name: text.encode("cp1252") for name, text in files.items()}
    drafted = bench.draft(files)
    assert "answer" not in drafted.split("schema = 1", 1)[1]  # every column could be told

    loaded = bench.load(files, drafted)
    cases, monitor = loaded.account("narkosebuch_2026-03.csv"), loaded.account("monitor_2026-03.csv")

    # F1 F3 F6 F7: encoding, separator, titles and totals
    assert (cases.encoding, cases.separator) == ("cp1252", "semicolon")
    assert (cases.read, cases.set_aside) == (3, 3 + 1)
    assert (monitor.read, monitor.set_aside) == (3, 1 + 1)
    assert loaded.cell("breed", "B01") == "Dackel „kurz“"
    # F10 N3 P1: header in two languages, decimal comma, ASA in words
    assert loaded.ask("SELECT species, weight_kg, asa_class, emergency FROM cases ORDER BY case_id") == [
        ("dog", 12.4, 2, True), ("cat", 4200.0, 3, None), ("dog", 27.5, None, None)]  # fmt: skip
    # P8: the weight in grams is proposed, not repaired
    assert ("weight_kg", "4200", "4.2 kg?") in loaded.flagged()
    # T1 T7: 16/03 decides the order; 00:19 is of the next day, and so is the reading of 00:10
    assert str(loaded.cell("induction_at", "B01")) == "2026-03-05 22:04:00"
    assert str(loaded.cell("extubation_at", "B01")) == "2026-03-06 00:19:00"
    # V1 V3 V5: artefacts stay for the models to judge, Fahrenheit is converted (98.6 °F = 37.0 °C)
    readings = loaded.ask("SELECT taken_at::VARCHAR, parameter, value FROM vitals ORDER BY taken_at_s, parameter")
    assert [value for _, parameter, value in readings if parameter == "etco2"] == [38, 0, 41]
    assert [value for _, parameter, value in readings if parameter == "temperature"] == [21.4, 37.2, 37.0]
    assert readings[-1][0] == "2026-03-06 00:10:00"
    # D4: the microgram's spelling is read, the missing unit is not guessed
    assert loaded.ask("SELECT drug, amount, amount_unit FROM drugs ORDER BY source_row") == [
        ("methadone", 0.2, "mg/kg"), ("fentanyl", 5.0, "mcg/kg"), ("ketamine", 5.0, None)]  # fmt: skip
    # E1: text is not searched for events; the row waits to be mended
    assert loaded.ask("SELECT case_id, event FROM events") == [("B01", "hypotension")]
    assert [row[:3] for row in loaded.quarantined()] == [("B02", "event", "keine Hypotonie, RR gut")]
    # and nothing but that one row waits
    assert sum(account.quarantined for account in loaded.receipt.files) == 1
