"""The OpenAPI description by itself: it is valid, and describes every method of the contract. Needs no service."""

import copy
import json
import unittest

from openapi_spec_validator import validate
from openapi_spec_validator.validation.exceptions import OpenAPIValidationError

from contract import PROTO
from test_contract import file_descriptors


class OpenApi(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.description = json.loads((PROTO / "openapi.json").read_text())

    def operations(self):
        for path in self.description["paths"].values():
            yield from path.values()

    def test_it_is_valid(self):
        validate(self.description)

    def test_a_broken_one_is_not(self):
        broken = copy.deepcopy(self.description)
        next(iter(broken["paths"].values()))["get"]["responses"] = "none"
        with self.assertRaises(OpenAPIValidationError):
            validate(broken)

    def test_every_method_is_described(self):
        services = [service for file in file_descriptors() for service in file.services_by_name.values()]
        methods = {method.name for service in services for method in service.methods}
        described = {operation["operationId"].split("_")[0] for operation in self.operations()}
        self.assertEqual(described, methods)
        self.assertGreater(len(methods), 30)

    def test_everything_is_described_in_words(self):
        for operation in self.operations():
            self.assertTrue(operation["description"], operation["operationId"])
            for parameter in operation["parameters"]:
                if "$ref" in parameter:
                    parameter = self.description["components"]["parameters"][parameter["$ref"].rpartition("/")[2]]
                self.assertTrue(parameter["description"], (operation["operationId"], parameter["name"]))
