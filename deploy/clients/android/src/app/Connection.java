package app;

import io.grpc.CallOptions;
import io.grpc.Channel;
import io.grpc.ClientCall;
import io.grpc.ClientInterceptor;
import io.grpc.ClientInterceptors;
import io.grpc.ForwardingClientCall;
import io.grpc.ForwardingClientCallListener;
import io.grpc.Grpc;
import io.grpc.InsecureChannelCredentials;
import io.grpc.ManagedChannel;
import io.grpc.Metadata;
import io.grpc.MethodDescriptor;
import io.grpc.Status;
import io.grpc.StatusRuntimeException;
import io.grpc.TlsChannelCredentials;
import java.net.URI;
import java.util.concurrent.ThreadLocalRandom;

/**
 * A connection to a service. gRPC takes the transport that is there: Netty on a desktop, OkHttp on Android. Open one and keep
 * it; calls belong on a background thread.
 */
public final class Connection implements AutoCloseable {
    /** Longer than the service works on any single answer. */
    public static final int LONGEST_SECONDS = 30;

    private static final int[] PAUSES_MILLIS = {100, 200, 500, 1000, 2000, 5000};

    private final ManagedChannel channel;
    private final String key;

    /** A connection to a URL, http or https; {@code key} is empty where the service asks for none. */
    public Connection(String url, String key) {
        URI at = URI.create(url);
        boolean secure = "https".equals(at.getScheme());
        this.channel = Grpc.newChannelBuilder(
                at.getAuthority(), secure ? TlsChannelCredentials.create() : InsecureChannelCredentials.create()).build();
        this.key = key;
    }

    /** What stubs are made on: every call has the key, and every refusal the id of its call. */
    public Channel channel() {
        return ClientInterceptors.intercept(channel, new WithKey(key));
    }

    /** One call; a new stub each time, so that its deadline begins now. */
    public interface Call<T> {
        T make() throws StatusRuntimeException;
    }

    /**
     * Calls until the service has answered yes or no, or seven tries came to nothing. Reads may always be repeated, and so may
     * writes: they carry a request_id, so that the service does them once, however often they come.
     */
    public static <T> T sure(Call<T> call) throws Refusal, InterruptedException {
        for (int pause : PAUSES_MILLIS) {
            try {
                return call.make();
            } catch (StatusRuntimeException error) {
                Refusal refusal = new Refusal(error);
                if (!refusal.mayPass()) {
                    throw refusal;
                }
                Thread.sleep(Math.max(refusal.retryMillis, pause + ThreadLocalRandom.current().nextInt(pause / 2)));
            }
        }
        try {
            return call.make();
        } catch (StatusRuntimeException error) {
            throw new Refusal(error);
        }
    }

    @Override
    public void close() {
        channel.shutdownNow();
    }

    /** Sends the key with every call, and keeps the id of the call for {@link Refusal}. */
    private static final class WithKey implements ClientInterceptor {
        private static final Metadata.Key<String> HEADER =
                Metadata.Key.of("authorization", Metadata.ASCII_STRING_MARSHALLER);
        private final String key;

        WithKey(String key) {
            this.key = key;
        }

        @Override
        public <Q, A> ClientCall<Q, A> interceptCall(MethodDescriptor<Q, A> method, CallOptions options, Channel next) {
            return new ForwardingClientCall.SimpleForwardingClientCall<Q, A>(next.newCall(method, options)) {
                @Override
                public void start(Listener<A> listener, Metadata headers) {
                    if (!key.isEmpty()) {
                        headers.put(HEADER, "Bearer " + key);
                    }
                    super.start(new WithId<>(listener), headers);
                }
            };
        }
    }

    /** A stream that had begun has told the id of its call already, before its answers. */
    private static final class WithId<A> extends ForwardingClientCallListener.SimpleForwardingClientCallListener<A> {
        private String id;

        WithId(ClientCall.Listener<A> listener) {
            super(listener);
        }

        @Override
        public void onHeaders(Metadata headers) {
            id = headers.get(Refusal.REQUEST_ID);
            super.onHeaders(headers);
        }

        @Override
        public void onClose(Status status, Metadata trailers) {
            if (id != null && !trailers.containsKey(Refusal.REQUEST_ID)) {
                trailers.put(Refusal.REQUEST_ID, id);
            }
            super.onClose(status, trailers);
        }
    }
}
