"""A client of the service: its connection, its errors with every field, and calls that are repeated until it is sure."""

import dataclasses
import datetime
import os
import random
import time
import urllib.parse
import uuid
from collections.abc import Iterator

import grpc
from google.rpc import error_details_pb2
from grpc_status import rpc_status
from nextrung import v1

# Longer than the service works on any single answer; a replay and a watch have no limit.
SECONDS = 30.0
# Waits between tries, in seconds, each with a random share of it more, so that clients do not come back in step.
PAUSES = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)


@dataclasses.dataclass
class Refusal(Exception):
    """What the service said when it refused a call. Programs match on code and reason, never on the message."""

    code: str
    """The name of the gRPC code, such as INVALID_ARGUMENT."""
    message: str
    """For people; its wording may change."""
    reason: str = ""
    """The reason, such as BAD_FIELDS; empty when the error was not made by the service."""
    domain: str = ""
    """`nextrung` for errors that the service made."""
    metadata: dict[str, str] = dataclasses.field(default_factory=dict)
    """What it is about, such as the name of the resource."""
    fields: list[tuple[str, str]] = dataclasses.field(default_factory=list)
    """Every bad field, such as `sets[3].hold_seconds`, with what was expected and how to mend it."""
    retry_seconds: float | None = None
    """How long to wait before the next try, when the service says so."""
    request_id: str = ""
    """The id of the call in the service's log: tell it to whoever runs the service."""

    @classmethod
    def of(cls, error: grpc.RpcError) -> "Refusal":
        """Takes the details out of an error of gRPC."""
        # A stream that had begun has told the id already, before its answers.
        told = dict((*(error.initial_metadata() or ()), *(error.trailing_metadata() or ())))
        refusal = cls(error.code().name, error.details() or "", request_id=told.get("x-request-id", ""))
        status = rpc_status.from_call(error)
        for detail in status.details if status else ():
            info, bad, retry = (
                error_details_pb2.ErrorInfo(), error_details_pb2.BadRequest(), error_details_pb2.RetryInfo()
            )
            if detail.Unpack(info):
                refusal.reason, refusal.domain, refusal.metadata = info.reason, info.domain, dict(info.metadata)
            elif detail.Unpack(bad):
                refusal.fields = [(violation.field, violation.description) for violation in bad.field_violations]
            elif detail.Unpack(retry):
                refusal.retry_seconds = retry.retry_delay.ToTimedelta().total_seconds()
        return refusal

    @property
    def may_pass(self) -> bool:
        """Whether the same request may succeed later. A write is sent again with the same request_id."""
        if self.code == "RESOURCE_EXHAUSTED":
            return self.reason != "MESSAGE_TOO_LARGE"
        return self.code in ("UNAVAILABLE", "DEADLINE_EXCEEDED", "CANCELLED", "ABORTED")

    def __str__(self) -> str:
        return f"{self.code} {self.reason}: {self.message}"


class _WithKey(grpc.UnaryUnaryClientInterceptor, grpc.UnaryStreamClientInterceptor):
    """Sends the key with every call."""

    def __init__(self, key: str):
        self._header = ("authorization", f"Bearer {key}")

    def _call(self, go_on, details, request):
        metadata = (*(details.metadata or ()), self._header)
        return go_on(details._replace(metadata=metadata), request)

    intercept_unary_unary = _call
    intercept_unary_stream = _call


class Client:
    """A connection with a stub for each service of the contract. Open one and keep it: it may be used from any thread."""

    def __init__(self, server: str = "", key: str = "", authority: str = ""):
        """`server` is a URL, else NEXTRUNG_SERVER; `key` is sent with every call, else NEXTRUNG_KEY; `authority` is a PEM
        file with who vouches for an https server, where the machine does not know them."""
        url = server or os.environ.get("NEXTRUNG_SERVER") or "http://127.0.0.1:7878"
        parts = urllib.parse.urlsplit(url if "//" in url else f"//{url}")
        if parts.scheme == "https":
            roots = open(authority, "rb").read() if authority else None
            channel = grpc.secure_channel(parts.netloc, grpc.ssl_channel_credentials(roots))
        else:
            channel = grpc.insecure_channel(parts.netloc)
        self._channel = channel
        if key := key or os.environ.get("NEXTRUNG_KEY", ""):
            channel = grpc.intercept_channel(channel, _WithKey(key))
        self.rosters = v1.RosterServiceStub(channel)
        self.athletes = v1.AthleteServiceStub(channel)
        self.sets = v1.SetLogServiceStub(channel)
        self.prescriptions = v1.PrescriptionServiceStub(channel)
        self.capacities = v1.CapacityServiceStub(channel)
        self.reviews = v1.ReviewServiceStub(channel)
        self.replays = v1.ReplayServiceStub(channel)
        self.ladders = v1.LadderServiceStub(channel)

    def __enter__(self) -> "Client":
        return self

    def __exit__(self, *_) -> None:
        self._channel.close()


def ask(method, request, seconds: float = SECONDS):
    """Calls once; raises Refusal."""
    try:
        return method(request, timeout=seconds)
    except grpc.RpcError as error:
        raise Refusal.of(error) from error


def sure(method, request, seconds: float = SECONDS):
    """Calls until the service has answered yes or no, or seven tries came to nothing. Reads may always be repeated, and so may
    writes: they carry a request_id, so that the service does them once, however often they come."""
    for pause in PAUSES:
        try:
            return ask(method, request, seconds)
        except Refusal as refusal:
            if not refusal.may_pass:
                raise
            time.sleep(max(refusal.retry_seconds or 0.0, pause * random.uniform(1.0, 1.5)))
    return ask(method, request, seconds)


def stream(method, request) -> Iterator:
    """Gives the answers of a stream as they come; raises Refusal. Closing the generator ends the call."""
    answers = method(request)
    try:
        yield from answers
    except grpc.RpcError as error:
        raise Refusal.of(error) from error
    finally:
        answers.cancel()


def request_id() -> str:
    """A new id for a write: one for each thing to be done, not for each try."""
    return str(uuid.uuid4())


def date(day: datetime.date) -> v1.Date:
    """A day of the calendar as the contract has it."""
    return v1.Date(year=day.year, month=day.month, day=day.day)
