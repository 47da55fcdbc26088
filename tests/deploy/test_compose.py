"""Compose files: their specification, hardening, times and settings."""

import unittest

import compose_spec

import shipped

FOLDER = shipped.DEPLOY / "compose"


def service(name: str) -> dict:
    (document,) = shipped.documents(FOLDER / name)
    return document["services"]["nextrung"]


def settings(name: str) -> dict[str, str]:
    variables = {key: str(value) for key, value in service(name)["environment"].items()}
    # A password is filled in by compose.
    variables = {key: value for key, value in variables.items() if "${" not in value}
    return shipped.settings(variables=variables)


class Compose(unittest.TestCase):
    files = ("single.yaml", "replicas.yaml")

    def test_every_file_fits_the_specification(self):
        self.assertEqual({path.name for path in FOLDER.glob("*.yaml")}, set(self.files))
        for name in self.files:
            parsed = compose_spec.PyCompose.from_yaml((FOLDER / name).read_text())
            self.assertIn("nextrung", parsed)

    def test_a_misspelt_key_is_found(self):
        text = (FOLDER / "single.yaml").read_text().replace("read_only:", "readonly:")
        with self.assertRaises(ValueError):
            compose_spec.PyCompose.from_yaml(text)

    def test_the_container_can_do_little(self):
        for name in self.files:
            of = service(name)
            self.assertEqual((of["user"], of["read_only"], of["cap_drop"]), ("65532:65532", True, ["ALL"]), name)
            self.assertIn("no-new-privileges:true", of["security_opt"], name)
            self.assertIn("mem_limit", of, name)

    def test_settings_are_sound_and_the_stop_is_waited_for(self):
        for name in self.files:
            self.assertEqual(settings(name)["listen"], "0.0.0.0:7878", name)
            self.assertGreater(shipped.seconds(service(name)["stop_grace_period"]), shipped.longest_stop(settings(name)), name)

    def test_every_caller_needs_a_key_and_an_end_is_a_new_start(self):
        for name in self.files:
            self.assertEqual(settings(name)["keys"], "true", name)
            self.assertEqual(service(name)["restart"], "unless-stopped", name)

    def test_ports_are_open_to_this_machine_alone(self):
        self.assertTrue(all(port.startswith("127.0.0.1:") for port in service("single.yaml")["ports"]))
        self.assertNotIn("ports", service("replicas.yaml"))

    def test_three_share_one_database_and_no_password_is_written_down(self):
        (document,) = shipped.documents(FOLDER / "replicas.yaml")
        of = document["services"]["nextrung"]
        self.assertEqual(of["deploy"]["replicas"], 3)
        self.assertEqual(of["depends_on"]["postgres"]["condition"], "service_healthy")
        self.assertIn(":${POSTGRES_PASSWORD:?", of["environment"]["NEXTRUNG_DATABASE"])
        self.assertIn("${POSTGRES_PASSWORD:?", document["services"]["postgres"]["environment"]["POSTGRES_PASSWORD"])
