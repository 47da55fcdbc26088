"""The example for Android: what it prints is what the service has."""

import re

import hall
from google.protobuf import json_format
from hall import CLIENTS, DAY, HallCase
from nextrung import v1


class OnAPhone(HallCase):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.said = hall.started([CLIENTS / "android" / "run", cls.hall.url, "climbing-hall/redstart", DAY])
        (cls.name,) = re.findall(r"^kept as rosters/climbing-hall/athletes/redstart/prescriptions/(\S+)$", cls.said, re.MULTILINE)

    def test_the_prescription_is_shown_with_every_reason(self):
        asked = ("prescriptions", "show", f"climbing-hall/redstart/{self.name}")
        prescription = json_format.ParseDict(hall.nextrung_json(*asked, server=self.hall.url), v1.Prescription())
        self.assertGreater(len(prescription.items), 2)
        expected = [prescription.headline]
        for item in prescription.items:
            unit = "reps" if item.unit == v1.UNIT_REPS else "s"
            rung = item.rung.rsplit("/", 1)[1]
            expected.append(f"- {rung}, {item.sets} x {item.target_low} to {item.target_high} {unit}")
            expected += [f"  {reason.sentence}" for reason in item.reasons]
        expected += [f"caution: {caution}" for caution in prescription.cautions]
        self.assertEqual(self.said.splitlines()[1:len(expected) + 1], expected)

    def test_the_first_set_is_recorded_to_plan(self):
        asked = ("sets", "list", "climbing-hall/redstart", "--from", DAY)
        answer = hall.nextrung_json(*asked, server=self.hall.url)
        (one,) = answer["sets"]
        self.assertIn(f"recorded at log position {answer['logPosition']}\n", self.said)
        self.assertEqual((one["holdSeconds"], one["stop"], one["purpose"]), (one["plannedTarget"], "STOP_TARGET", "PURPOSE_PRACTICE"))

    def test_every_field_of_an_error_is_shown(self):
        self.assertIn("refused: INVALID_ARGUMENT BAD_FIELDS of nextrung: ", self.said)
        fields = re.findall(r"^  (sets\[0\]\.\w+): found .*; expected .*$", self.said, re.MULTILINE)
        bad = ("set_number", "rung", "purpose", "reps", "stop")
        self.assertEqual(sorted(fields), sorted(f"sets[0].{field}" for field in bad))

    def test_whoever_mistypes_the_athlete_is_told_the_error_with_its_fields(self):
        cases = (("redstat", "NOT_FOUND ATHLETE_NOT_FOUND", []), ("red start", "INVALID_ARGUMENT BAD_FIELDS", ["parent"]))
        for athlete, told, fields in cases:
            with self.subTest(athlete):
                with self.assertRaises(RuntimeError) as ended:
                    hall.started([CLIENTS / "android" / "run", self.hall.url, f"climbing-hall/{athlete}", DAY])
                said = str(ended.exception)
                self.assertIn(f"ended with 1: refused: {told} of nextrung: ", said)
                self.assertNotIn("Exception", said)
                self.assertEqual(re.findall(r"^  (\w+): found .*; expected .*$", said, re.MULTILINE), fields)
