package probe;

import app.Connection;
import app.Refusal;
import io.grpc.CallOptions;
import io.grpc.MethodDescriptor;
import io.grpc.StatusRuntimeException;
import io.grpc.stub.ClientCalls;
import java.io.BufferedReader;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.io.InputStream;
import java.io.InputStreamReader;
import java.io.UncheckedIOException;
import java.net.URLEncoder;
import java.nio.charset.StandardCharsets;
import java.util.Base64;
import java.util.Map;

/**
 * A door for the tests: makes the calls of standard input, a line each with method, key and request in base64, and tells in a
 * line each what the example's own code takes out of the refusal, as a query string.
 */
public final class Probe {
    private Probe() {}

    /** {@code Probe URL}. */
    public static void main(String[] arguments) throws IOException {
        BufferedReader lines = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8));
        for (String line = lines.readLine(); line != null; line = lines.readLine()) {
            String[] parts = line.split("\t", -1);
            try (Connection connection = new Connection(arguments[0], parts[1])) {
                System.out.println(refused(connection, parts[0], Base64.getDecoder().decode(parts[2])));
            }
        }
    }

    private static String refused(Connection connection, String path, byte[] request) {
        MethodDescriptor<byte[], byte[]> method = MethodDescriptor.newBuilder(new Bytes(), new Bytes())
                .setFullMethodName(path)
                .setType(MethodDescriptor.MethodType.SERVER_STREAMING)
                .build();
        try {
            ClientCalls.blockingServerStreamingCall(connection.channel(), method, CallOptions.DEFAULT, request)
                    .forEachRemaining(answer -> {});
            return "";
        } catch (StatusRuntimeException error) {
            return told(new Refusal(error));
        }
    }

    private static String told(Refusal refusal) {
        StringBuilder told = new StringBuilder();
        add(told, "code", refusal.code);
        add(told, "message", refusal.getMessage());
        add(told, "reason", refusal.reason);
        add(told, "domain", refusal.domain);
        add(told, "request_id", refusal.requestId);
        add(told, "retry_millis", Long.toString(refusal.retryMillis));
        for (Map.Entry<String, String> entry : refusal.metadata.entrySet()) {
            add(told, "metadata " + entry.getKey(), entry.getValue());
        }
        refusal.fields.forEach(field -> add(told, "field " + field.getField(), field.getDescription()));
        return told.toString();
    }

    private static void add(StringBuilder told, String name, String value) {
        told.append(told.length() == 0 ? "" : "&")
                .append(URLEncoder.encode(name, StandardCharsets.UTF_8))
                .append('=')
                .append(URLEncoder.encode(value, StandardCharsets.UTF_8));
    }

    /** Requests and answers as they are. */
    private static final class Bytes implements MethodDescriptor.Marshaller<byte[]> {
        @Override
        public InputStream stream(byte[] message) {
            return new ByteArrayInputStream(message);
        }

        @Override
        public byte[] parse(InputStream stream) {
            try {
                return stream.readAllBytes();
            } catch (IOException error) {
                throw new UncheckedIOException(error);
            }
        }
    }
}
