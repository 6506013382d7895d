//! `gudgeon demo`: a fresh folder with an invented fleet. Everything in it goes through the real API, the
//! real weekly run and the real delivery; nothing is written to the database behind their backs.

mod folder;
mod sending;
mod story;

use crate::keys::{self, KeyRole};
use crate::settings::Settings;
use crate::stop::Stop;
use crate::{clock, deliver, serve, week};
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{Links, Store};
use sending::{Keys, Sending};
use std::error::Error;
use std::io::{self, Write};
use std::net::TcpListener;
use std::path::Path;
use std::sync::mpsc;
use std::thread;

/// Makes the demonstration in a folder; then serves its pages until told to stop, if asked to.
pub(crate) fn run(dir: &Path, serve_pages: bool) -> Result<(), Box<dyn Error>> {
    let listener = listener()?;
    let address = listener.local_addr()?;
    folder::make(dir, address)?;
    let settings = Settings::read(dir)?;
    let store = settings.open_store(true)?;
    store.migrate()?;
    let mut keys = Keys {
        operator: keys::make(&store, KeyRole::Operator, "the demonstration's operator")?,
        inspector: keys::make(&store, KeyRole::Inspector, "the demonstration's inspector")?,
        shops: Vec::new(),
    };
    let base_url = settings.file.base_url.clone();
    let server = Background::start(listener, store.clone(), base_url, settings.links()?)?;
    let posted = Sending::new(&settings.file.base_url).send_all(&mut keys)?;
    folder::write_keys(dir, &keys)?;

    let today = clock::day_of(clock::now());
    let this_week = ReportWeek::of(today);
    let summary = week::plan(&store, &settings, this_week, Some(today), true)?;
    let mails = deliver::send_due(&store, &settings, &Stop::default())?;
    let mut out = io::stdout();
    writeln!(out, "An invented fleet: nobody and nothing in it exists.")?;
    writeln!(out, "{posted} requests posted through the API, some of them twice.")?;
    week::print_week(&settings, (this_week, Some(today)), &summary)?;
    let base_url = &settings.file.base_url;
    let folder = dir.display();
    writeln!(
        out,
        "{} mails in {folder}/mail: open one with your mail program.",
        mails.accepted.len()
    )?;
    writeln!(out, "Keys are in {folder}/keys.txt. The inspector's: {}", keys.inspector)?;
    if serve_pages {
        writeln!(out, "Open {base_url}/ and sign in with it. Stop with Ctrl-C.")?;
        out.flush()?;
        server.wait()
    } else {
        writeln!(out, "To see the pages: gudgeon serve --dir {folder}, then open {base_url}/")?;
        server.stop()
    }
}

/// The usual port, or any free one when that is taken.
fn listener() -> io::Result<TcpListener> {
    TcpListener::bind(("127.0.0.1", 8080)).or_else(|_taken| TcpListener::bind(("127.0.0.1", 0)))
}

/// The service, running in a thread of its own while the story is posted to it.
struct Background {
    handle: actix_web::dev::ServerHandle,
    thread: thread::JoinHandle<io::Result<()>>,
}

impl Background {
    fn start(
        listener: TcpListener,
        store: Store,
        base_url: String,
        links: Option<Links>,
    ) -> Result<Self, Box<dyn Error>> {
        let (sender, receiver) = mpsc::channel();
        let thread = thread::spawn(move || {
            actix_web::rt::System::new().block_on(async {
                let server = serve::start(listener, store, base_url, links, true)?;
                // The other side is waiting for exactly this one message.
                let _ = sender.send(server.handle());
                server.await
            })
        });
        Ok(Self { handle: receiver.recv()?, thread })
    }

    fn wait(self) -> Result<(), Box<dyn Error>> {
        self.thread.join().map_err(|_panic| "the service's thread ended badly")??;
        Ok(())
    }

    fn stop(self) -> Result<(), Box<dyn Error>> {
        // The message goes out at once; waiting for the thread waits for the service to end.
        drop(self.handle.stop(true));
        self.wait()
    }
}
