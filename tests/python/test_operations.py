"""What an operator relies on: health, reflection, a clean stop, and a log that survives a crash."""

import socket

import grpc
from google.protobuf import descriptor_pb2
from grpc_health.v1 import health_pb2, health_pb2_grpc
from grpc_reflection.v1alpha import reflection_pb2

from contract import api
from service_case import SECONDS, ServiceCase
from test_contract import SERVICES


class Operations(ServiceCase):
    def test_the_service_is_healthy(self):
        health = health_pb2_grpc.HealthStub(self.channel)
        answer = health.Check(health_pb2.HealthCheckRequest(), timeout=SECONDS)
        self.assertEqual(answer.status, health_pb2.HealthCheckResponse.SERVING)

    def reflect(self, request):
        """One question to reflection, v1 (its messages are those of v1alpha under another package)."""
        call = self.channel.stream_stream(
            "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
            request_serializer=reflection_pb2.ServerReflectionRequest.SerializeToString,
            response_deserializer=reflection_pb2.ServerReflectionResponse.FromString,
        )
        return next(call(iter([request]), timeout=SECONDS))

    def test_reflection_lists_every_service(self):
        answer = self.reflect(reflection_pb2.ServerReflectionRequest(list_services="*"))
        names = {service.name for service in answer.list_services_response.service}
        self.assertLessEqual({f"nextrung.v1.{name}" for name in SERVICES} | {"grpc.health.v1.Health"}, names)

    def test_reflection_shows_the_contract_that_was_compiled(self):
        request = reflection_pb2.ServerReflectionRequest(file_containing_symbol="nextrung.v1.LoggedSet")
        (data, *_) = self.reflect(request).file_descriptor_response.file_descriptor_proto
        shown = descriptor_pb2.FileDescriptorProto.FromString(data)
        compiled = descriptor_pb2.FileDescriptorProto()
        api.LoggedSet.DESCRIPTOR.file.CopyToProto(compiled)
        for message in (*shown.message_type, *compiled.message_type):
            for field in message.field:
                field.ClearField("json_name")  # one compiler writes the default out, the other does not
        self.assertEqual(list(shown.message_type), list(compiled.message_type))
        self.assertEqual(list(shown.enum_type), list(compiled.enum_type))

    def test_an_unknown_method_is_unimplemented(self):
        call = self.channel.unary_unary(
            "/nextrung.v1.SetLogService/NoSuchMethod",
            request_serializer=lambda request: request,
            response_deserializer=lambda answer: answer,
        )
        self.assertEqual(self.refused(call, b"").code, grpc.StatusCode.UNIMPLEMENTED)


class Restart(ServiceCase):
    def test_an_acknowledged_set_survives_a_crash_and_a_stop(self):
        athlete = self.new_athlete().name
        recorded = self.record(athlete, self.pull_up(1, 5), self.pull_up(2, 4))
        self.service.kill()
        self.service.start_again()
        self.connect()
        self.assertEqual(list(self.listed(athlete).sets), list(recorded.sets))
        self.assertEqual(self.service.stop(), 0)
        self.service.start_again()
        self.connect()
        self.assertEqual(list(self.listed(athlete).sets), list(recorded.sets))

    def test_a_silent_connection_does_not_hold_up_the_stop(self):
        host, port = self.service.address.split(":")
        with socket.create_connection((host, int(port))):
            self.assertEqual(self.service.stop(), 0)
        self.service.start_again()
        self.connect()
