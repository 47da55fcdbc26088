"""The contract by itself: it compiles for another language and keeps the rules a client relies on. Needs no service."""

import unittest

from google.protobuf import descriptor

from contract import FILES, api

SERVICES = (
    "RosterService",
    "AthleteService",
    "SetLogService",
    "PrescriptionService",
    "CapacityService",
    "LadderService",
    "ReviewService",
    "ReplayService",
)


def file_descriptors():
    """The descriptor of every file of the contract."""
    pool = api.LoggedSet.DESCRIPTOR.file.pool
    return [pool.FindFileByName(f"nextrung/v1/{file.name}") for file in FILES]


class Contract(unittest.TestCase):
    def test_every_service_has_a_client(self):
        services = {name for file in file_descriptors() for name in file.services_by_name}
        self.assertEqual(services, set(SERVICES))
        for name in services:
            self.assertTrue(hasattr(api, f"{name}Stub"))

    def test_the_zero_of_every_enum_is_unspecified(self):
        enums = [enum for file in file_descriptors() for enum in file.enum_types_by_name.values()]
        self.assertGreater(len(enums), 5)
        for enum in enums:
            self.assertTrue(enum.values_by_number[0].name.endswith("_UNSPECIFIED"), enum.full_name)

    def test_every_method_has_messages_of_its_own(self):
        for file in file_descriptors():
            for service in file.services_by_name.values():
                for method in service.methods:
                    self.assertEqual(method.input_type.name, f"{method.name}Request")
                    self.assertEqual(method.output_type.name, f"{method.name}Response")

    def test_every_write_carries_a_request_id(self):
        writes = ("Create", "Update", "Record", "Correct", "Withdraw", "Prescribe")
        found = 0
        for file in file_descriptors():
            for service in file.services_by_name.values():
                for method in service.methods:
                    if method.name.startswith(writes):
                        found += 1
                        self.assertIn("request_id", method.input_type.fields_by_name, method.full_name)
        self.assertGreaterEqual(found, 8)

    def test_no_field_is_bytes(self):
        kinds = descriptor.FieldDescriptor
        fields = [
            field
            for file in file_descriptors()
            for message in file.message_types_by_name.values()
            for field in message.fields
        ]
        self.assertGreater(len(fields), 100)
        self.assertEqual([field.full_name for field in fields if field.type == kinds.TYPE_BYTES], [])
