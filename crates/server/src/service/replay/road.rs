//! Road: the way from a replay to whoever reads it, which ends when the reader goes away or the service stops.

use nextrung_api::v1::ReplayRosterResponse;
use nextrung_api::v1::replay_roster_response::Piece;
use tokio::runtime::Handle;
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

/// The way to a reader, for a thread that may wait.
pub(super) struct Road {
    pub(super) sender: mpsc::Sender<ReplayRosterResponse>,
    pub(super) stop: CancellationToken,
    pub(super) handle: Handle,
}

impl Road {
    /// True when nobody reads any more or the service stops.
    pub(super) fn has_ended(&self) -> bool {
        self.sender.is_closed() || self.stop.is_cancelled()
    }

    /// Sends a piece as soon as there is room. False when the road has ended.
    pub(super) fn send(&self, piece: Piece) -> bool {
        let response = ReplayRosterResponse { piece: Some(piece) };
        self.handle.block_on(async {
            tokio::select! {
                () = self.stop.cancelled() => false,
                sent = self.sender.send(response) => sent.is_ok(),
            }
        })
    }

    /// Sends a piece if there is room now. True when it went out.
    pub(super) fn offer(&self, piece: Piece) -> bool {
        self.sender.try_send(ReplayRosterResponse { piece: Some(piece) }).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1::{ReplayProgress, ReplayRows};

    use super::*;

    fn road(room: usize) -> (Road, mpsc::Receiver<ReplayRosterResponse>) {
        let (sender, receiver) = mpsc::channel(room);
        (Road { sender, stop: CancellationToken::new(), handle: Handle::current() }, receiver)
    }

    fn rows() -> Piece {
        Piece::Rows(ReplayRows::default())
    }

    #[tokio::test]
    async fn a_road_ends_when_the_reader_goes_or_the_service_stops() {
        let (gone, reader) = road(1);
        assert!(!gone.has_ended());
        drop(reader);
        assert!(gone.has_ended());
        let (stopped, _reader) = road(1);
        stopped.stop.cancel();
        assert!(stopped.has_ended());
    }

    #[tokio::test]
    async fn progress_is_left_out_where_there_is_no_room_and_rows_wait() {
        let (road, mut reader) = road(1);
        let progress = || Piece::Progress(ReplayProgress::default());
        assert_eq!([road.offer(progress()), road.offer(progress())], [true, false]);
        let waiting = tokio::task::spawn_blocking(move || (road.send(rows()), road));
        assert_eq!(reader.recv().await.unwrap().piece, Some(progress()));
        assert_eq!(reader.recv().await.unwrap().piece, Some(rows()));
        assert!(waiting.await.unwrap().0);
    }

    #[tokio::test]
    async fn whoever_waits_for_room_is_told_of_the_end() {
        for stops in [true, false] {
            let (road, reader) = road(1);
            assert!(road.offer(rows()));
            let stop = road.stop.clone();
            let waiting = tokio::task::spawn_blocking(move || road.send(rows()));
            if stops {
                stop.cancel();
            } else {
                drop(reader);
            }
            assert!(!waiting.await.unwrap(), "{stops}");
        }
    }
}
