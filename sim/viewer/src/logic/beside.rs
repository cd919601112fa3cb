//! Work that goes on beside, on a thread of its own, while the window is drawn or rests.

use std::sync::{Arc, Mutex, OnceLock, PoisonError, mpsc};

use bevy::prelude::Resource;

/// Wakes the window when something that went on beside is there; without a window nothing rests.
#[derive(Resource, Clone, Default)]
pub struct Wake(Arc<OnceLock<Box<dyn Fn() + Send + Sync>>>);

/// Work that goes on.
pub struct Beside<T>(Mutex<mpsc::Receiver<T>>);

/// The work has ended without a result, by a fault of this program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BrokeOff;

impl Wake {
    /// From now on this wakes the window.
    pub fn by(&self, how: impl Fn() + Send + Sync + 'static) {
        // There is one window, and it is opened once.
        let _ = self.0.set(Box::new(how));
    }
}

/// Wakes the window whatever becomes of the work.
struct AtEnd(Wake);

impl Drop for AtEnd {
    fn drop(&mut self) {
        if let Some(how) = self.0.0.get() {
            how();
        }
    }
}

impl<T: Send + 'static> Beside<T> {
    /// Begins it.
    #[must_use]
    pub fn begin(wake: &Wake, work: impl FnOnce() -> T + Send + 'static) -> Self {
        let (sender, receiver) = mpsc::channel();
        let at_end = AtEnd(wake.clone());
        std::thread::spawn(move || {
            // Dropped in this order from below: what woke up sees the result, or that there is none.
            let _at_end = at_end;
            let sender = sender;
            // Where the viewer has closed meanwhile nobody takes the result.
            let _ = sender.send(work());
        });
        Self(Mutex::new(receiver))
    }

    /// What came of it, once; none while it goes on.
    ///
    /// # Errors
    /// [`BrokeOff`] where nothing will ever come.
    pub fn came(&self) -> Result<Option<T>, BrokeOff> {
        match self.0.lock().unwrap_or_else(PoisonError::into_inner).try_recv() {
            Ok(came) => Ok(Some(came)),
            Err(mpsc::TryRecvError::Empty) => Ok(None),
            Err(mpsc::TryRecvError::Disconnected) => Err(BrokeOff),
        }
    }
}
