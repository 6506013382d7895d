//! The real program, ended, doubled and cut off while clients post: what was answered is there, once, and
//! nothing is half-written.

#![cfg(test)]

use gudgeon_databases::{Database, Server};
use gudgeon_store::Store;
use gudgeon_tests::load::{Random, Sequential, fact_id, posts, prepare, shuffled};
use gudgeon_tests::site::{Client, Reply, Serving, Site, wait_until};
use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::Duration;

/// How long a client waits before it tries again what was not answered, or is not taken just now.
const PAUSE: Duration = Duration::from_millis(10);

fn migrate(url: &str) {
    Store::open(url, true).unwrap().migrate().unwrap();
}

/// Whether an answer says that the fact is kept. Fails the test on any that is neither that nor a request to
/// come back.
fn is_taken(reply: &Reply) -> bool {
    // RFC 9110 section 10.2.3: a number of seconds.
    let come_back =
        reply.status == 503 && reply.retry_after.is_some_and(|it| (1..60).contains(&it));
    assert!(come_back || matches!(reply.status, 200 | 201), "{reply:?}");
    !come_back
}

/// Sends a post until it is taken.
fn send(client: &Client, (path, body): &(String, Value)) {
    wait_until("a post is taken", || {
        let taken = client.put(path, body).is_some_and(|reply| is_taken(&reply));
        if !taken {
            thread::sleep(PAUSE);
        }
        taken
    });
}

/// What is known of the posts of a service that is killed again and again.
struct Killed {
    site: Site,
    key: String,
    store: Store,
    posts: Vec<(String, Value)>,
    /// Told every post that is kept, and no other.
    sequential: Sequential,
    /// Posts that were sent at least once, whatever came of it.
    sent: Mutex<BTreeSet<usize>>,
    /// Posts of which the fact is there.
    kept: BTreeSet<usize>,
}

impl Killed {
    fn new(database: &Database) -> Self {
        let site = Site::new(database.url());
        let key = site.operator_key();
        let serving = site.serve();
        prepare(&site.client(&key));
        serving.kill();
        let store = Store::open(database.url(), false).unwrap();
        let (posts, sequential) = (posts(60), Sequential::new());
        Self { site, key, store, posts, sequential, sent: Mutex::default(), kept: BTreeSet::new() }
    }

    /// Four clients post until the service is killed: this long after this many answers. Gives the posts
    /// answered with 2xx.
    fn round(
        &self,
        serving: Serving,
        seed: u64,
        answers: usize,
        then: Duration,
    ) -> BTreeSet<usize> {
        let answered = Mutex::new(BTreeSet::new());
        thread::scope(|scope| {
            for client in 0..4 {
                let answered = &answered;
                scope.spawn(move || self.post_until_killed(seed * 4 + client, answered));
            }
            wait_until("a few are answered", || answered.lock().unwrap().len() >= answers);
            thread::sleep(then);
            serving.kill();
        });
        answered.into_inner().unwrap()
    }

    fn post_until_killed(&self, seed: u64, answered: &Mutex<BTreeSet<usize>>) {
        let client = self.site.client(&self.key);
        // Others send the same in another order: some of it twice, some of it at the same time.
        for at in shuffled(self.posts.len(), seed).into_iter().cycle() {
            // Nearly all of what is kept is left alone, for the load to be of new facts.
            if self.kept.contains(&at) && at % 16 != 0 {
                continue;
            }
            let (path, body) = &self.posts[at];
            self.sent.lock().unwrap().insert(at);
            let Some(reply) = client.put(path, body) else { return };
            if is_taken(&reply) {
                answered.lock().unwrap().insert(at);
            }
        }
    }

    /// Looks which posts are kept, and compares with a service that was told these and no others.
    fn check(&mut self) -> Result<(), String> {
        for at in self.sent.lock().unwrap().difference(&self.kept.clone()) {
            let post = &self.posts[*at];
            if self.store.fact(fact_id(&post.0)).unwrap().is_some() {
                self.sequential.tell(post);
                self.kept.insert(*at);
            }
        }
        self.sequential.compare(&self.site.client(&self.key), &self.store)
    }

    /// The same, once a server has ended what a killed client had asked of it.
    fn settle(&mut self) -> Result<(), String> {
        let mut checked = self.check();
        for _ in 0..100 {
            if checked.is_ok() {
                break;
            }
            thread::sleep(PAUSE);
            checked = self.check();
        }
        checked
    }
}

/// Every post answered 2xx is there, once, the chains verify, and nothing is half-written: after each kill.
fn killed_at_random_moments(database: &Database, rounds: u64) {
    let mut killed = Killed::new(database);
    let mut random = Random(rounds);
    let mut serving = killed.site.serve();
    for round in 0..rounds {
        let (answers, micros) = (random.below(16), random.below(20_000));
        let then = Duration::from_micros(u64::try_from(micros).unwrap());
        let answered = killed.round(serving, round, answers, then);
        serving = killed.site.serve();
        let when = format!("round {round}, killed {micros} µs after {answers} answers");
        killed.settle().unwrap_or_else(|why| panic!("{when}: {why}"));
        let lost: Vec<_> = answered.difference(&killed.kept).collect();
        assert!(lost.is_empty(), "{when}, lost: {lost:?}");
    }
    let kept = killed.kept.len();
    assert!(kept > usize::try_from(rounds).unwrap(), "hardly anything was posted: {kept} facts");
    // What is kept says what was posted: the same again is the same, and not other content under its id.
    let client = killed.site.client(&killed.key);
    for at in &killed.kept {
        let (path, body) = &killed.posts[*at];
        assert_eq!(client.put(path, body).map(|reply| reply.status), Some(200), "{path}");
    }
    drop(serving);
}

#[test]
fn killed_fifty_times_under_load_nothing_answered_is_lost_or_doubled() {
    killed_at_random_moments(&Database::sqlite(migrate), 50);
}

#[test]
fn killed_under_load_nothing_answered_is_lost_or_doubled_on_postgres() {
    killed_at_random_moments(&Database::postgres(migrate), 12);
}

/// Eight clients send all posts to two replicas, each in an order of its own and some of them twice; one
/// replica is killed amid that and comes back.
#[test]
fn two_replicas_one_of_them_killed_end_where_one_service_does() {
    const CLIENTS: u64 = 8;
    let database = Database::postgres(migrate);
    let sites = [Site::new(database.url()), Site::new(database.url())];
    let key = sites[0].operator_key();
    let [steady, killed] = sites.each_ref().map(Site::serve);
    prepare(&sites[0].client(&key));
    let posts = posts(6);
    let sent = AtomicUsize::new(0);
    let restarted = thread::scope(|scope| {
        for seed in 0..CLIENTS {
            let (site, key, posts, sent) =
                (&sites[usize::from(seed % 2 == 1)], &key, &posts, &sent);
            scope.spawn(move || {
                let client = site.client(key);
                for at in shuffled(posts.len(), seed) {
                    send(&client, &posts[at]);
                    if at % 8 == 0 {
                        send(&client, &posts[at]);
                    }
                    sent.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        wait_until("a part is sent", || sent.load(Ordering::Relaxed) > posts.len() / 2);
        killed.kill();
        assert!(sent.load(Ordering::Relaxed) < 4 * posts.len(), "it was killed too late");
        thread::sleep(Duration::from_millis(200));
        sites[1].serve()
    });
    let sequential = Sequential::of(&posts);
    let store = Store::open(database.url(), false).unwrap();
    for site in &sites {
        sequential.compare(&site.client(&key), &store).unwrap();
    }
    drop((steady, restarted));
}

/// Clients that are asked to come back while the database is away come back, and lose nothing.
#[test]
fn a_database_stopped_and_started_under_load_loses_nothing() {
    let server = Server::start();
    let database = Database::of_server(&server, migrate);
    let site = Site::new(database.url());
    let key = site.operator_key();
    let serving = site.serve();
    prepare(&site.client(&key));
    let posts = posts(9);
    let (sent, away) = (AtomicUsize::new(0), AtomicUsize::new(0));
    thread::scope(|scope| {
        for seed in 0..4 {
            let (site, key, posts, sent, away) = (&site, &key, &posts, &sent, &away);
            scope.spawn(move || {
                let client = site.client(key);
                for at in shuffled(posts.len(), seed) {
                    let (path, body) = &posts[at];
                    wait_until("a post is taken", || {
                        // The service itself never goes away: every request is answered.
                        let taken = is_taken(&client.put(path, body).expect("an answer"));
                        if !taken {
                            away.fetch_add(1, Ordering::Relaxed);
                            thread::sleep(PAUSE);
                        }
                        taken
                    });
                    sent.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        for times in 1..=3 {
            wait_until("a part is sent", || sent.load(Ordering::Relaxed) > times * posts.len() / 2);
            let before = away.load(Ordering::Relaxed);
            server.stop();
            wait_until("clients are asked to come back", || {
                away.load(Ordering::Relaxed) > before + 4
            });
            server.start_again();
        }
    });
    let sequential = Sequential::of(&posts);
    let store = Store::open(database.url(), false).unwrap();
    sequential.compare(&site.client(&key), &store).unwrap();
    drop(serving);
}
