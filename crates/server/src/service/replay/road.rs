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
