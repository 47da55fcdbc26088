//! Job: a sheet with all that it is read against, for threads to work on.

use std::borrow::Cow;
use std::io::Write;
use std::ops::ControlFlow;
use std::sync::Arc;

use nextrung_sheet::grid::Grid;
use nextrung_sheet::mapping::{Directory, KnownRung, Mapping};
use nextrung_sheet::stage::{Delivered, DeliveryError, Import, Refused, Staged};

use super::source::{Source, the_other_sheet, undelivered};
use crate::failure::Failure;

/// A sheet with all that it is read against.
#[derive(Debug)]
pub(super) struct Job {
    pub(super) source: Source,
    pub(super) mapping: Mapping,
    pub(super) rungs: Vec<KnownRung>,
    /// The roster, a resource name.
    pub(super) roster: String,
    pub(super) directory: Directory,
    /// Whether the sheet need not have a row of sets yet.
    pub(super) may_be_empty: bool,
}

impl Job {
    fn with<T>(
        &self,
        refused: Option<&Refused>,
        work: impl FnOnce(&Import<'_, '_>) -> Result<T, DeliveryError>,
    ) -> Result<T, DeliveryError> {
        let grid = Grid::open(&self.source.label, &self.source.bytes, self.mapping.encoding)?;
        let mapping = match the_other_sheet(&grid).filter(|_| self.mapping.sheet.is_none()) {
            Some(sheet) => Cow::Owned(Mapping { sheet: Some(sheet), ..self.mapping.clone() }),
            None => Cow::Borrowed(&self.mapping),
        };
        let import = Import::new(&grid, &mapping, &self.rungs)?.with_athletes(&self.directory);
        let import = if self.may_be_empty { import.may_be_empty() } else { import };
        match refused {
            Some(refused) => work(&import.with_refused(refused)),
            None => work(&import),
        }
    }

    /// Judges every row, by what the service refused too, and gives the name of the sheet with it.
    pub(super) async fn rehearse(self: &Arc<Self>, refused: &Arc<Refused>) -> Result<Rehearsed, Failure> {
        let (job, refused) = (self.clone(), refused.clone());
        let work = move || {
            job.with(Some(&refused), |import| {
                let sheet = import.sheet_name().map(str::to_owned);
                Ok(Rehearsed { sheet, staged: import.rehearse()? })
            })
        };
        on_thread(work).await?.map_err(|error| undelivered(&error))
    }

    /// Hands out the sound sets, on the thread that calls. What is set aside goes to `aside`.
    pub(super) fn deliver(
        &self,
        staged: &Staged,
        aside: &mut dyn Write,
        on_set: &mut dyn FnMut(Delivered<'_>) -> ControlFlow<()>,
    ) -> Result<usize, DeliveryError> {
        self.with(None, |import| import.deliver(staged, Some(aside), on_set))
    }
}

/// What a rehearsal came to.
#[derive(Debug)]
pub(super) struct Rehearsed {
    /// The name of the sheet, if it has one.
    pub(super) sheet: Option<String>,
    pub(super) staged: Staged,
}

/// Does work that takes long beside what waits for the service.
pub(super) async fn on_thread<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Failure> {
    tokio::task::spawn_blocking(work).await.map_err(|error| Failure::internal(&error))
}
