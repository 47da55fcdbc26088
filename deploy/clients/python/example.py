#!/usr/bin/env python3
"""What an app does, from a new athlete to tomorrow's session: keeps the athlete, records sets so that a lost answer does no
harm, asks what to train and why, shows what was wrong with a bad request, and is told when a set changes tomorrow.

The athlete and the sets are invented. Every run makes an athlete of its own in the roster `example`.
"""

import argparse
import datetime
import threading
import uuid

from client import Client, Refusal, date, request_id, stream, sure
from nextrung import v1

ROSTER = "rosters/example"
PULL_UP = "ladders/pull/rungs/pull-up"
# Days before the session, with the clean reps of three sets; every set went on until strength gave out.
TRAINED = {9: (5, 4, 4), 7: (5, 5, 4), 4: (6, 5, 5)}


def keep_athlete(client: Client, athlete_id: str) -> str:
    """Makes the roster if it is not there, and the athlete in it; gives the athlete's name."""
    roster = v1.CreateRosterRequest(
        roster_id="example", roster=v1.Roster(title="Example (invented)"), request_id=request_id()
    )
    try:
        sure(client.rosters.CreateRoster, roster)
    except Refusal as refusal:
        if refusal.reason != "ROSTER_EXISTS":
            raise
    athlete = v1.Athlete(
        display_name="Kit (invented)",
        body_mass_kg=68.0,
        goals=[v1.Goal(rung="ladders/pull/rungs/archer")],
        equipment=["bar", "band", "box"],
    )
    request = v1.CreateAthleteRequest(
        parent=ROSTER, athlete_id=athlete_id, athlete=athlete, request_id=request_id()
    )
    return sure(client.athletes.CreateAthlete, request).athlete.name


def pull_ups(day: datetime.date, counts: tuple[int, ...]) -> list[v1.LoggedSet]:
    """Sets of pull-ups. The ids are the app's own and stay the same however often the sets are sent."""
    return [
        v1.LoggedSet(
            client_set_id=f"{day}:{number}",
            training_date=date(day),
            set_number=number,
            rung=PULL_UP,
            purpose=v1.PURPOSE_WORKING,
            reps=reps,
            planned_target=6,
            stop=v1.STOP_TARGET if reps == 6 else v1.STOP_STRENGTH,
            rest_seconds=180,
        )
        for number, reps in enumerate(counts, 1)
    ]


def record(client: Client, athlete: str, day: datetime.date) -> None:
    """Records three sessions, and sends them once more, as after an answer that was lost."""
    sets = [one for before, counts in TRAINED.items() for one in pull_ups(day - datetime.timedelta(before), counts)]
    request = v1.RecordSetsRequest(parent=athlete, sets=sets, request_id=request_id())
    first = sure(client.sets.RecordSets, request)
    again = sure(client.sets.RecordSets, request)
    print(f"recorded: {len(first.sets)} sets, log position {first.log_position}")
    print(f"sent again: {'the same answer' if again == first else 'ANOTHER ANSWER'}, log position {again.log_position}")


def show(prescription: v1.Prescription) -> None:
    """Prints a prescription with its reasons, what is held back, and the cautions that always go with it."""
    print(prescription.headline)
    for number, item in enumerate(prescription.items, 1):
        block = v1.Block.Name(item.block).removeprefix("BLOCK_").lower().replace("_", " ")
        what = ", ".join([item.rung.rsplit("/", 1)[1], *item.shadings])
        unit = "reps" if item.unit == v1.UNIT_REPS else "s"
        print(f"{number}. {block}: {what}, {item.sets} x {item.target_low} to {item.target_high} {unit}")
        print(f"   could do {item.expected.median_units:.1f}, in band {item.expected.p_band:.0%}")
        for reason in item.reasons:
            print(f"   - {reason.sentence}")
        print(f"   stop: {item.stop_rule.sentence}")
    for held in prescription.hold_backs:
        print(f"held back: {held.rung.rsplit('/', 1)[1]}. {held.detail} {held.opened_by}")
    for caution in prescription.cautions:
        print(f"caution: {caution}")


def show_refusal(client: Client, athlete: str, day: datetime.date) -> None:
    """Sends a set with five mistakes and prints every field of the answer."""
    bad = v1.LoggedSet(client_set_id="bad", set_number=0, rung="ladders/pull/rungs/pul-up", reps=400)
    bad.training_date.CopyFrom(date(day))
    try:
        sure(client.sets.RecordSets, v1.RecordSetsRequest(parent=athlete, sets=[bad], request_id=request_id()))
    except Refusal as refusal:
        print(f"refused: {refusal.code} {refusal.reason} of {refusal.domain}: {refusal.message}")
        for field, description in refusal.fields:
            print(f"  {field}: {description}")
        print("  told under a request id" if refusal.request_id else "  WITHOUT A REQUEST ID")


def watch(client: Client, athlete: str, day: datetime.date) -> None:
    """Watches the day while a better session is recorded, until the change is told."""
    told = threading.Event()

    def listen() -> None:
        answers = stream(
            client.prescriptions.WatchPrescriptions, v1.WatchPrescriptionsRequest(names=[athlete], date=date(day))
        )
        print(f"told: {next(answers).prescription.headline}")
        told.set()
        print(f"told: {next(answers).change}")
        answers.close()

    listener = threading.Thread(target=listen, daemon=True)
    listener.start()
    if not told.wait(30):
        raise TimeoutError("nothing was told")
    sets = pull_ups(day - datetime.timedelta(2), (12, 12, 11))
    sure(client.sets.RecordSets, v1.RecordSetsRequest(parent=athlete, sets=sets, request_id=request_id()))
    listener.join(30)
    if listener.is_alive():
        raise TimeoutError("the change was not told")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--server", default="", help="default: NEXTRUNG_SERVER, else http://127.0.0.1:7878")
    arguments.add_argument("--authority", default="", help="who vouches for an https server (PEM)")
    arguments.add_argument("--athlete", default=f"kit-{uuid.uuid4().hex[:8]}", help="the id of the new athlete")
    tomorrow = datetime.date.today() + datetime.timedelta(1)
    arguments.add_argument("--date", type=datetime.date.fromisoformat, default=tomorrow, help="the day of the session")
    options = arguments.parse_args()
    with Client(options.server, authority=options.authority) as client:
        athlete = keep_athlete(client, options.athlete)
        record(client, athlete, options.date)
        request = v1.PrescribeRequest(parent=athlete, date=date(options.date), request_id=request_id())
        prescription = sure(client.prescriptions.Prescribe, request).prescription
        print(f"kept as {prescription.name}")
        show(prescription)
        show_refusal(client, athlete, options.date - datetime.timedelta(3))
        watch(client, athlete, options.date)


if __name__ == "__main__":
    main()
