"""The OpenAPI description as a running service gives it, taken at its word: what it does not have is not answered."""

import copy
import json
import pathlib
import re

import jsonschema_rs
import requests
import schemathesis
from schemathesis.specs.openapi import checks

ROOT = pathlib.Path(__file__).resolve().parents[2]
LONGEST_SECONDS = 60
LINES = "application/x-ndjson"
ERROR = {"$ref": "#/components/schemas/Error"}
# What is looked at in every answer.
CHECKS = [
    schemathesis.checks.not_a_server_error, checks.status_code_conformance, checks.content_type_conformance,
    checks.response_schema_conformance,
]


def served(url: str) -> dict:
    """What the service says of itself."""
    answer = requests.get(f"{url}/openapi.json", timeout=LONGEST_SECONDS)
    answer.raise_for_status()
    return answer.json()


def at_its_word(description: dict) -> dict:
    """The same without room for what it does not name: no other statuses, no other fields."""
    strict = copy.deepcopy(description)
    for path in strict["paths"].values():
        for operation in path.values():
            del operation["responses"]["default"]
    for schema in strict["components"]["schemas"].values():
        _close(schema)
    for path in strict["paths"].values():
        for operation in path.values():
            for content in operation.get("requestBody", {}).get("content", {}).values():
                _close(content["schema"])
    return strict


def _close(schema: dict) -> None:
    if schema.get("type") == "object":
        schema["additionalProperties"] = False


def reasons() -> set[tuple[str, str]]:
    """Every reason of the contract's page with its code, those that are of HTTP alone with its status."""
    page = (ROOT / "proto" / "README.md").read_text()
    rows = re.findall(r"^\| ([A-Z_]+|\d{3}) \| ([A-Z_, ]+) \|", page, re.MULTILINE)
    return {(code, reason) for code, told in rows for reason in told.split(", ")}


class Description:
    """A description, the service that it is about, and what was seen of it."""

    def __init__(self, description: dict, url: str):
        self._description = at_its_word(description)
        self._url = url
        self._session = requests.Session()
        self._reasons = reasons()
        self.seen: dict[str, set[int]] = {}
        self.schema = schemathesis.openapi.from_dict(self._description)

    def operations(self) -> dict[str, schemathesis.APIOperation]:
        """Every operation by its id."""
        found = [operation.ok() for operation in self.schema.get_all_operations()]
        return {operation.definition.raw["operationId"]: operation for operation in found}

    def ask(self, operation: str, case: schemathesis.Case) -> requests.Response:
        """Asks, and holds the answer against the description; raises what is wrong with it."""
        answer = case.call(base_url=self._url, session=self._session, timeout=LONGEST_SECONDS)
        case.validate_response(answer, checks=CHECKS)
        self.seen.setdefault(operation, set()).add(answer.status_code)
        kind = answer.headers["content-type"][0]
        text = answer.content.decode()
        assert re.fullmatch("[0-9a-f]{16}", answer.headers["x-request-id"][0]), answer.headers
        # The library lets fields pass that a closed schema does not have.
        if answer.status_code != 200:
            self._documents(ERROR, [text])
            self._refused(answer.status_code, json.loads(text)["error"])
        elif kind == LINES:
            self.lines(operation, text)
        else:
            self._documents(self._done(operation, kind), [text])
        return answer

    def _refused(self, status: int, error: dict) -> None:
        """An error tells its status, and a reason of the contract; one of bad fields names each."""
        details = {detail["@type"].rpartition(".")[2]: detail for detail in error["details"]}
        info = details["ErrorInfo"]
        assert error["code"] == status and info["domain"] == "nextrung", error
        assert {(error["status"], info["reason"]), (str(status), info["reason"])} & self._reasons, error
        if info["reason"] == "BAD_FIELDS":
            bad = details["BadRequest"]["fieldViolations"]
            # The last one may say how many there are for which there was no room.
            told = [one for one in bad if one["field"] != "..."]
            assert told and all(one["field"] and "; expected " in one["description"] for one in told), error

    def lines(self, operation: str, text: str) -> None:
        """Each line is a document of its own, and the last is ended."""
        assert text.endswith("\n"), text[-100:]
        self._documents(self._done(operation, LINES), text.splitlines())

    def _done(self, operation: str, kind: str) -> dict:
        """What is answered when a call is done."""
        return self.operations()[operation].definition.raw["responses"]["200"]["content"][kind]["schema"]

    def _documents(self, schema: dict, texts: list[str]) -> None:
        validator = jsonschema_rs.validator_for({**schema, "components": self._description["components"]})
        for text in texts:
            validator.validate(json.loads(text))
