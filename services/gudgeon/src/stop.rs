//! Being asked to stop, by SIGTERM or Ctrl-C: whoever delivers ends the mail under way and begins no other, so that
//! none is left of which nobody can tell whether it arrived.

use actix_web::rt::Runtime;
use actix_web::rt::signal::unix::{Signal, SignalKind, signal};
use std::future::poll_fn;
use std::io::{self, Write as _};
use std::process::exit;
use std::sync::{Arc, Condvar, Mutex, PoisonError, mpsc};
use std::task::Poll;
use std::thread;
use std::time::Duration;

/// How a process ends that was asked twice: as a shell tells of one that SIGINT ended.
const ENDED_AT_ONCE: u8 = 130;

/// Whether this process was asked to stop.
#[derive(Clone, Default)]
pub(crate) struct Stop(Arc<(Mutex<bool>, Condvar)>);

impl Stop {
    /// Listens from now on. Whoever asks twice means at once.
    pub(crate) fn listen() -> io::Result<Self> {
        let stop = Self::default();
        let heard = stop.clone();
        let (begun, begins) = mpsc::channel();
        thread::spawn(move || {
            let listening = Runtime::new().and_then(|runtime| {
                let kinds = [SignalKind::terminate(), SignalKind::interrupt()];
                let [terminate, interrupt] = runtime.block_on(async { kinds.map(signal) });
                Ok((runtime, [terminate?, interrupt?]))
            });
            let (runtime, mut signals) = match listening {
                Ok(listening) => listening,
                Err(error) => return begun.send(Err(error)),
            };
            begun.send(Ok(()))?;
            runtime.block_on(next(&mut signals));
            heard.ask();
            // What is said helps whoever waits; the signal is heard all the same.
            let _ = writeln!(io::stderr(), "gudgeon: it ends after the mail under way");
            runtime.block_on(next(&mut signals));
            exit(ENDED_AT_ONCE.into())
        });
        begins.recv().map_err(io::Error::other)??;
        Ok(stop)
    }

    fn ask(&self) {
        let (asked, told) = &*self.0;
        *asked.lock().unwrap_or_else(PoisonError::into_inner) = true;
        told.notify_all();
    }

    /// Whether it was.
    pub(crate) fn is_asked(&self) -> bool {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Rests for so long, or until it is asked.
    pub(crate) fn rest(&self, at_most: Duration) {
        let (asked, told) = &*self.0;
        let guard = asked.lock().unwrap_or_else(PoisonError::into_inner);
        // Either end of the wait will do.
        let _ = told.wait_timeout_while(guard, at_most, |asked| !*asked);
    }
}

/// Waits for the next of these signals.
async fn next(signals: &mut [Signal]) {
    poll_fn(|context| {
        let heard = signals.iter_mut().any(|signal| signal.poll_recv(context).is_ready());
        if heard { Poll::Ready(()) } else { Poll::Pending }
    })
    .await;
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Instant;

    #[test]
    fn whoever_rests_is_woken_when_it_is_asked() {
        let stop = Stop::default();
        stop.rest(Duration::from_millis(1));
        assert!(!stop.is_asked());
        let began = Instant::now();
        thread::scope(|scope| {
            scope.spawn(|| stop.ask());
            stop.rest(Duration::from_mins(1));
        });
        assert!(stop.is_asked() && began.elapsed() < Duration::from_secs(30));
    }
}
