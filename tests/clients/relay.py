"""A relay before a service that can lose an answer: the request arrives, and the connection is cut before the answer does."""

import socket
import threading


class Relay:
    """Listens on loopback and passes bytes both ways. After `lose_next_answer` the next bytes of the service are thrown away
    and their connection is cut on both sides."""

    def __init__(self, address: str):
        host, port = address.rsplit(":", 1)
        self._to = (host, int(port))
        self._losing = threading.Event()
        self.lost = 0
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._listener.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def lose_next_answer(self) -> None:
        """The next answer is lost."""
        self._losing.set()

    def close(self) -> None:
        """Takes no more connections."""
        self._listener.close()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            service = socket.create_connection(self._to)
            both = (client, service)
            threading.Thread(target=self._pass, args=(client, service, both, False), daemon=True).start()
            threading.Thread(target=self._pass, args=(service, client, both, True), daemon=True).start()

    def _pass(self, source: socket.socket, sink: socket.socket, both, is_answer: bool) -> None:
        try:
            while data := source.recv(65536):
                # Nine bytes of HTTP/2 that only acknowledge something are no answer.
                if is_answer and self._losing.is_set() and len(data) > 40:
                    self._losing.clear()
                    self.lost += 1
                    break
                sink.sendall(data)
        except OSError:
            pass
        for one in both:
            try:
                one.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass
