package app;

import com.google.protobuf.Any;
import com.google.protobuf.InvalidProtocolBufferException;
import com.google.rpc.BadRequest;
import com.google.rpc.ErrorInfo;
import com.google.rpc.RetryInfo;
import com.google.rpc.Status;
import io.grpc.Metadata;
import io.grpc.StatusRuntimeException;
import java.util.ArrayList;
import java.util.Collections;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;

/** What the service said when it refused a call. Programs match on code and reason, never on the message. */
public final class Refusal extends Exception {
    private static final Metadata.Key<byte[]> DETAILS =
            Metadata.Key.of("grpc-status-details-bin", Metadata.BINARY_BYTE_MARSHALLER);
    static final Metadata.Key<String> REQUEST_ID =
            Metadata.Key.of("x-request-id", Metadata.ASCII_STRING_MARSHALLER);

    /** The name of the gRPC code, such as INVALID_ARGUMENT. */
    public final String code;
    /** The reason, such as BAD_FIELDS; empty when the error was not made by the service. */
    public final String reason;
    /** {@code nextrung} for errors that the service made. */
    public final String domain;
    /** What it is about, such as the name of the resource. */
    public final Map<String, String> metadata;
    /** Every bad field, such as {@code sets[3].hold_seconds}, with what was expected and how to mend it. */
    public final List<BadRequest.FieldViolation> fields;
    /** How long to wait before the next try, in milliseconds; negative when the service does not say. */
    public final long retryMillis;
    /** The id of the call in the service's log: tell it to whoever runs the service. */
    public final String requestId;

    /** Takes the details out of an error of gRPC. */
    public Refusal(StatusRuntimeException error) {
        super(error.getStatus().getDescription() == null ? "" : error.getStatus().getDescription(), error);
        ErrorInfo info = ErrorInfo.getDefaultInstance();
        List<BadRequest.FieldViolation> bad = new ArrayList<>();
        long wait = -1;
        for (Any detail : details(error.getTrailers())) {
            try {
                if (detail.getTypeUrl().endsWith("/google.rpc.ErrorInfo")) {
                    info = ErrorInfo.parseFrom(detail.getValue());
                } else if (detail.getTypeUrl().endsWith("/google.rpc.BadRequest")) {
                    bad.addAll(BadRequest.parseFrom(detail.getValue()).getFieldViolationsList());
                } else if (detail.getTypeUrl().endsWith("/google.rpc.RetryInfo")) {
                    RetryInfo retry = RetryInfo.parseFrom(detail.getValue());
                    wait = retry.getRetryDelay().getSeconds() * 1000 + retry.getRetryDelay().getNanos() / 1_000_000;
                }
            } catch (InvalidProtocolBufferException unreadable) {
                addSuppressed(unreadable);
            }
        }
        code = error.getStatus().getCode().name();
        reason = info.getReason();
        domain = info.getDomain();
        metadata = Collections.unmodifiableMap(new TreeMap<>(info.getMetadataMap()));
        fields = Collections.unmodifiableList(bad);
        retryMillis = wait;
        String id = error.getTrailers() == null ? null : error.getTrailers().get(REQUEST_ID);
        requestId = id == null ? "" : id;
    }

    /** Whether the same request may succeed later. A write is sent again with the same request_id. */
    public boolean mayPass() {
        switch (code) {
            case "RESOURCE_EXHAUSTED":
                return !reason.equals("MESSAGE_TOO_LARGE");
            case "UNAVAILABLE":
            case "DEADLINE_EXCEEDED":
            case "CANCELLED":
            case "ABORTED":
                return true;
            default:
                return false;
        }
    }

    private static List<Any> details(Metadata trailers) {
        byte[] bytes = trailers == null ? null : trailers.get(DETAILS);
        try {
            return bytes == null ? Collections.emptyList() : Status.parseFrom(bytes).getDetailsList();
        } catch (InvalidProtocolBufferException unreadable) {
            return Collections.emptyList();
        }
    }
}
