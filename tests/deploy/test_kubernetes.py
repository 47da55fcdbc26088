"""Manifests for Kubernetes: their schemas, the restricted profile, probes, times and settings."""

import copy
import pathlib
import tempfile
import unittest

import kubernetes_validate
import yaml

import shipped

FOLDER = shipped.DEPLOY / "kubernetes"
# The newest version whose schemas are at hand, and the oldest that projects commonly still run (common practice, no source).
VERSIONS = ("1.37", "1.32")


def manifests() -> list[dict]:
    return [document for path in sorted(FOLDER.glob("*.yaml")) for document in shipped.documents(path)]


def one(kind: str) -> dict:
    (found,) = (document for document in manifests() if document["kind"] == kind)
    return copy.deepcopy(found)


def restricted(pod: dict) -> list[str]:
    """What breaks the restricted profile (published source: Kubernetes, Pod Security Standards, "Restricted")."""
    broken = []
    of_pod = pod.get("securityContext", {})
    for key in ("hostNetwork", "hostPID", "hostIPC"):
        if pod.get(key):
            broken.append(key)
    kinds = {"configMap", "csi", "downwardAPI", "emptyDir", "ephemeral", "persistentVolumeClaim", "projected", "secret"}
    broken += [f"volume {v['name']}" for v in pod.get("volumes", []) if not kinds & v.keys()]
    for container in pod["containers"] + pod.get("initContainers", []):
        own = container.get("securityContext", {})
        of = lambda key: own.get(key, of_pod.get(key))  # noqa: E731
        if own.get("privileged"):
            broken.append("privileged")
        if own.get("allowPrivilegeEscalation") is not False:
            broken.append("allowPrivilegeEscalation")
        if of("runAsNonRoot") is not True:
            broken.append("runAsNonRoot")
        if of("runAsUser") == 0:
            broken.append("runAsUser")
        if (of("seccompProfile") or {}).get("type") not in ("RuntimeDefault", "Localhost"):
            broken.append("seccompProfile")
        capabilities = own.get("capabilities", {})
        if "ALL" not in capabilities.get("drop", []):
            broken.append("capabilities.drop")
        if set(capabilities.get("add", [])) - {"NET_BIND_SERVICE"}:
            broken.append("capabilities.add")
        broken += ["hostPort" for port in container.get("ports", []) if port.get("hostPort")]
    return broken


class Schemas(unittest.TestCase):
    def test_every_manifest_fits_its_schema(self):
        checked = 0
        for document in manifests():
            if document["kind"] == "Kustomization":
                continue
            for version in VERSIONS:
                kubernetes_validate.validate(document, version, strict=True)
            checked += 1
        self.assertGreaterEqual(checked, 6)

    def test_a_misspelt_key_is_found(self):
        wrong = one("Deployment")
        wrong["spec"]["template"]["spec"]["containers"][0]["redinessProbe"] = {}
        with self.assertRaises(kubernetes_validate.ValidationError):
            kubernetes_validate.validate(wrong, VERSIONS[0], strict=True)

    def test_kustomization_names_every_file(self):
        listed = one("Kustomization")["resources"]
        there = {path.name for path in FOLDER.glob("*.yaml")} - {"kustomization.yaml"}
        self.assertEqual(set(listed), there)


class Hardening(unittest.TestCase):
    def setUp(self):
        self.pod = one("Deployment")["spec"]["template"]["spec"]

    def test_the_restricted_profile_is_kept(self):
        self.assertEqual(restricted(self.pod), [])

    def test_what_breaks_the_profile_is_found(self):
        changes = {
            "hostNetwork": lambda pod: pod.update(hostNetwork=True),
            "runAsNonRoot": lambda pod: pod["securityContext"].pop("runAsNonRoot"),
            "runAsUser": lambda pod: pod["securityContext"].update(runAsUser=0),
            "seccompProfile": lambda pod: pod["securityContext"].pop("seccompProfile"),
            "allowPrivilegeEscalation": lambda pod: pod["containers"][0]["securityContext"].pop("allowPrivilegeEscalation"),
            "capabilities.drop": lambda pod: pod["containers"][0]["securityContext"].pop("capabilities"),
            "volume host": lambda pod: pod["volumes"].append({"name": "host", "hostPath": {"path": "/"}}),
        }
        for broken, change in changes.items():
            pod = copy.deepcopy(self.pod)
            change(pod)
            self.assertEqual(restricted(pod), [broken])

    def test_beyond_the_profile(self):
        self.assertIs(self.pod["automountServiceAccountToken"], False)
        self.assertIs(self.pod["enableServiceLinks"], False)
        (container,) = self.pod["containers"]
        self.assertIs(container["securityContext"]["readOnlyRootFilesystem"], True)
        self.assertIn("memory", container["resources"]["limits"])
        self.assertEqual(set(container["resources"]["requests"]), {"cpu", "memory"})
        self.assertTrue(all(mount["readOnly"] for mount in container["volumeMounts"]))
        labels = one("Namespace")["metadata"]["labels"]
        self.assertEqual(labels["pod-security.kubernetes.io/enforce"], "restricted")

    def test_links_of_services_would_stop_the_program(self):
        with self.assertRaisesRegex(ValueError, "NEXTRUNG_PORT_7878_TCP"):
            shipped.settings(variables={"NEXTRUNG_PORT_7878_TCP": "tcp://10.0.0.1:7878"})


class Running(unittest.TestCase):
    def setUp(self):
        self.pod = one("Deployment")["spec"]["template"]["spec"]
        (self.container,) = self.pod["containers"]
        with tempfile.TemporaryDirectory() as folder:
            file = pathlib.Path(folder) / "nextrung.toml"
            file.write_text(one("ConfigMap")["data"]["nextrung.toml"])
            self.settings = shipped.settings(file)

    def test_probes_and_ports_are_those_of_the_settings(self):
        ports = {port["name"]: port["containerPort"] for port in self.container["ports"]}
        self.assertEqual(self.settings["listen"], f"0.0.0.0:{ports['grpc']}")
        self.assertEqual(self.settings["metrics.listen"], f"0.0.0.0:{ports['metrics']}")
        probes = {name: self.container[f"{name}Probe"]["httpGet"] for name in ("startup", "readiness", "liveness")}
        self.assertEqual({probe["port"] for probe in probes.values()}, {"metrics"})
        self.assertEqual([probes[name]["path"] for name in probes], ["/readyz", "/readyz", "/livez"])
        service = {port["name"]: port["port"] for port in one("Service")["spec"]["ports"]}
        self.assertEqual(service, ports)
        self.assertEqual(one("Service")["spec"]["clusterIP"], "None")

    def test_the_pod_is_not_killed_while_it_drains(self):
        self.assertGreater(self.pod["terminationGracePeriodSeconds"], shipped.longest_stop(self.settings))
        probe = self.container["readinessProbe"]
        self.assertGreater(shipped.seconds(self.settings["drain.notice"]), probe["periodSeconds"] * probe["failureThreshold"])

    def test_every_caller_needs_a_key(self):
        self.assertEqual(self.settings["keys"], "true")

    def test_whoever_is_let_in_is_named(self):
        rules = one("NetworkPolicy")["spec"]["ingress"]
        self.assertEqual({port["port"] for rule in rules for port in rule["ports"]}, {7878, 7879})
        self.assertTrue(all(rule.get("from") for rule in rules))
        self.assertIn("Egress", one("NetworkPolicy")["spec"]["policyTypes"])

    def test_labels_lead_to_the_pods(self):
        labels = one("Deployment")["spec"]["template"]["metadata"]["labels"]
        selectors = [
            one("Deployment")["spec"]["selector"]["matchLabels"],
            one("Service")["spec"]["selector"],
            one("NetworkPolicy")["spec"]["podSelector"]["matchLabels"],
            one("PodDisruptionBudget")["spec"]["selector"]["matchLabels"],
        ]
        for selector in selectors:
            self.assertTrue(selector.items() <= labels.items(), selector)
        self.assertLess(one("PodDisruptionBudget")["spec"]["minAvailable"], one("Deployment")["spec"]["replicas"])

    def test_no_secret_stands_in_a_manifest(self):
        self.assertNotIn("Secret", [document["kind"] for document in manifests()])
        variables = self.container["env"]
        self.assertEqual([list(variable) for variable in variables], [["name", "valueFrom"]])
        self.assertNotIn("postgres://nextrung:", yaml.safe_dump_all(manifests()))
