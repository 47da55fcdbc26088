"""A test case with a running service, its clients, and the few requests nearly every test needs."""

import itertools
import pathlib
import tempfile
import unittest
import uuid

import grpc
from google.rpc import error_details_pb2
from grpc_status import rpc_status

from contract import api
from service import Service

SECONDS = 20
# Dates lie well in the past, so that no test depends on the day it runs on.
MONDAY = (2025, 3, 3)


def date(year: int, month: int, day: int):
    return api.Date(year=year, month=month, day=day)


def request_id() -> str:
    return str(uuid.uuid4())


class Refusal:
    """What a refused call said: its code, its reason, and its bad fields."""

    def __init__(self, error: grpc.RpcError):
        self.code = error.code()
        self.message = error.details()
        self.reason = None
        self.fields: dict[str, str] = {}
        status = rpc_status.from_call(error)
        for detail in status.details if status else ():
            info, bad = error_details_pb2.ErrorInfo(), error_details_pb2.BadRequest()
            if detail.Unpack(info):
                self.reason = info.reason
            elif detail.Unpack(bad):
                self.fields = {violation.field: violation.description for violation in bad.field_violations}


class ServiceCase(unittest.TestCase):
    """Every class of tests has a service and a database of its own; every test makes its own roster and athlete."""

    _numbers = itertools.count(1)

    @classmethod
    def setUpClass(cls):
        place = tempfile.TemporaryDirectory(prefix="nextrung-e2e-")
        cls.addClassCleanup(place.cleanup)
        cls.service = Service(pathlib.Path(place.name) / "log.sqlite")
        cls.addClassCleanup(cls.service.kill)
        cls.connect()

    @classmethod
    def connect(cls):
        """Opens the clients on the service's present address."""
        channel = cls.service.channel()
        cls.addClassCleanup(channel.close)
        cls.channel = channel
        cls.rosters = api.RosterServiceStub(channel)
        cls.athletes = api.AthleteServiceStub(channel)
        cls.log = api.SetLogServiceStub(channel)
        cls.prescriptions = api.PrescriptionServiceStub(channel)
        cls.capacities = api.CapacityServiceStub(channel)
        cls.ladders = api.LadderServiceStub(channel)

    def refused(self, method, request) -> Refusal:
        """Calls a method that must refuse the request."""
        with self.assertRaises(grpc.RpcError) as caught:
            method(request, timeout=SECONDS)
        return Refusal(caught.exception)

    def new_roster(self):
        number = next(self._numbers)
        request = api.CreateRosterRequest(
            roster_id=f"roster-{number}", roster=api.Roster(title=f"Roster {number}"), request_id=request_id()
        )
        return self.rosters.CreateRoster(request, timeout=SECONDS).roster

    def new_athlete(self, equipment=("bar", "wall", "box", "parallel-bars", "rings"), **more):
        """An invented adult with common equipment, in a roster of its own."""
        athlete = api.Athlete(
            display_name="Invented Athlete",
            birth_date=date(1990, 6, 15),
            body_mass_kg=70.0,
            equipment=equipment,
            **more,
        )
        request = api.CreateAthleteRequest(
            parent=self.new_roster().name, athlete_id="one", athlete=athlete, request_id=request_id()
        )
        return self.athletes.CreateAthlete(request, timeout=SECONDS).athlete

    @staticmethod
    def pull_up(number: int, reps: int, day=MONDAY, **more):
        """A working set of pull-ups that strength ended."""
        fields = dict(
            client_set_id=f"set-{day[0]}-{day[1]}-{day[2]}-{number}",
            training_date=date(*day),
            set_number=number,
            rung="ladders/pull/rungs/pull-up",
            purpose=api.PURPOSE_WORKING,
            reps=reps,
            stop=api.STOP_STRENGTH,
        )
        return api.LoggedSet(**(fields | more))

    def record(self, athlete: str, *sets, request: str = "", validate_only: bool = False):
        request = api.RecordSetsRequest(
            parent=athlete, sets=sets, request_id=request or request_id(), validate_only=validate_only
        )
        return self.log.RecordSets(request, timeout=SECONDS)

    def listed(self, athlete: str, **more):
        return self.log.ListSets(api.ListSetsRequest(parent=athlete, page_size=1000, **more), timeout=SECONDS)
