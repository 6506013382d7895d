//! The address of a `PostgreSQL` database, and the rule on which of them may be spoken to without TLS.
//!
//! Everything that decides whom we speak to is told to the client library outright, so that no variable of
//! the environment (`PGHOST`, `PGHOSTADDR`, `PGSSLMODE`) can lead it elsewhere or turn TLS off.

use std::fmt;
use std::net::IpAddr;

/// What a URL looks like.
pub(crate) const EXAMPLE: &str =
    "postgres:///gudgeon?host=/run/postgresql or postgres://user@localhost:5432/gudgeon";

/// The parameters that may follow the question mark.
const PARAMETERS: [&str; 10] = [
    "application_name",
    "connect_timeout",
    "host",
    "passfile",
    "port",
    "sslcert",
    "sslkey",
    "sslmode",
    "sslrootcert",
    "user",
];

/// Set unless the URL sets them: a server that is gone is noticed within seconds, not hours.
const DEFAULTS: [(&str, &str); 5] = [
    ("application_name", "gudgeon"),
    ("connect_timeout", "5"),
    ("keepalives_idle", "30"),
    ("tcp_user_timeout", "30000"),
    ("port", "5432"),
];

/// Whether a build may use TLS.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tls {
    /// Only sockets and loopback addresses are spoken to, and always without.
    Without,
    /// Other addresses are spoken to as well, and never without.
    With,
}

impl Tls {
    /// As the feature `postgres-tls` says.
    pub(crate) const OF_THIS_BUILD: Self =
        if cfg!(feature = "postgres-tls") { Self::With } else { Self::Without };
}

/// A database of a server, as the parameters of the client library.
#[derive(Clone, PartialEq, Eq)]
pub(crate) struct Server(Vec<(&'static str, String)>);

impl Server {
    /// The parameters as the client library reads them: `key='value'`, quotes and backslashes escaped.
    pub(crate) fn conninfo(&self) -> String {
        let quoted = |text: &str| text.replace('\\', "\\\\").replace('\'', "\\'");
        let parts = self.0.iter().map(|(key, value)| format!("{key}='{}'", quoted(value)));
        parts.collect::<Vec<_>>().join(" ")
    }

    fn get(&self, key: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| *known == key).map(|(_, value)| value.as_str())
    }

    fn set(&mut self, key: &'static str, value: impl Into<String>) -> Result<(), String> {
        if self.get(key).is_some() {
            return Err(format!("it gives `{key}` twice"));
        }
        let value = value.into();
        if value.contains('\0') {
            return Err(format!("`{key}` holds a zero byte"));
        }
        self.0.push((key, value));
        Ok(())
    }
}

impl fmt::Debug for Server {
    /// Without the password.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = self.0.iter().filter(|(key, _)| *key != "password");
        f.debug_map().entries(shown.map(|(key, value)| (key, value))).finish()
    }
}

/// Reads what follows `postgres:`. The error says what is wrong, without any value that may be secret.
pub(crate) fn parse(rest: &str, tls: Tls) -> Result<Server, String> {
    let rest = rest.strip_prefix("//").ok_or("`//` comes after `postgres:`")?;
    let (rest, query) = rest.split_once('?').unwrap_or((rest, ""));
    let (authority, database) = rest.split_once('/').unwrap_or((rest, ""));
    let mut server = Server(Vec::new());
    if database.is_empty() {
        return Err("it names no database".to_owned());
    }
    server.set("dbname", decoded(database)?)?;
    let (login, address) = authority.rsplit_once('@').unwrap_or(("", authority));
    let (user, password) = login.split_once(':').unwrap_or((login, ""));
    let (host, port) = split_port(address)?;
    for (key, value) in [("user", user), ("password", password), ("host", host), ("port", port)] {
        if !value.is_empty() {
            server.set(key, decoded(value)?)?;
        }
    }
    for pair in query.split('&').filter(|pair| !pair.is_empty()) {
        let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
        let known = PARAMETERS.into_iter().find(|known| *known == name);
        let key = known.ok_or_else(|| {
            format!("no parameter `{name}` is known, only {}", PARAMETERS.join(", "))
        })?;
        server.set(key, decoded(value)?)?;
    }
    secured(server, tls)
}

/// Host and port of `host:port`, where the host may be an IPv6 address in brackets.
fn split_port(address: &str) -> Result<(&str, &str), String> {
    if let Some(rest) = address.strip_prefix('[') {
        let (host, port) = rest.split_once(']').ok_or("a bracket is not closed")?;
        return Ok((host, port.strip_prefix(':').unwrap_or(port)));
    }
    Ok(address.split_once(':').unwrap_or((address, "")))
}

/// RFC 3986 section 2.1: a percent sign and two hexadecimal digits stand for a byte.
fn decoded(text: &str) -> Result<String, String> {
    let broken = "a percent sign is not followed by two hexadecimal digits of a character";
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let [first, after @ ..] = rest {
        if *first != b'%' {
            bytes.push(*first);
            rest = after;
            continue;
        }
        let [high, low, after @ ..] = after else { return Err(broken.to_owned()) };
        let digits = [high, low].map(|digit| char::from(*digit).to_digit(16));
        let [Some(high), Some(low)] = digits else { return Err(broken.to_owned()) };
        bytes.push(u8::try_from(high * 16 + low).map_err(|error| error.to_string())?);
        rest = after;
    }
    String::from_utf8(bytes).ok().ok_or_else(|| broken.to_owned())
}

/// Where a server is reached.
enum Way {
    Socket,
    Loopback,
    Network,
}

fn way(host: &str) -> Result<Way, String> {
    match host {
        "" => Err("it names no server".to_owned()),
        socket if socket.starts_with('/') => Ok(Way::Socket),
        several if several.contains(',') => Err("it names several servers".to_owned()),
        // RFC 6761 section 6.3: the name is never anything but a loopback address.
        "localhost" => Ok(Way::Loopback),
        other => Ok(match other.parse::<IpAddr>() {
            Ok(address) if address.is_loopback() => Way::Loopback,
            _ => Way::Network,
        }),
    }
}

/// Adds what the URL leaves open, and refuses to speak to another machine unless TLS proves which it is.
fn secured(mut server: Server, tls: Tls) -> Result<Server, String> {
    let asked = server.get("sslmode").map(str::to_owned);
    let sslmode = match (way(server.get("host").unwrap_or_default())?, tls, asked.as_deref()) {
        (Way::Socket, _, None | Some("disable"))
        | (Way::Loopback, Tls::Without, None | Some("disable")) => "disable",
        (Way::Socket, _, Some(_)) => {
            return Err("a socket has no TLS: leave `sslmode` out".to_owned());
        }
        (Way::Loopback, Tls::With, None) => "prefer",
        (Way::Loopback, Tls::With, Some(asked)) => asked,
        (Way::Network, Tls::With, None | Some("verify-full")) => "verify-full",
        (Way::Network, Tls::With, Some(_)) => {
            return Err("only `sslmode=verify-full` proves which server of the network answers; `sslrootcert` names the file with its authority".to_owned());
        }
        (Way::Loopback, Tls::Without, Some(_)) | (Way::Network, Tls::Without, _) => {
            return Err("this build has no TLS, and so speaks to a server through a socket or a loopback address alone; build it with the feature `postgres-tls` for others".to_owned());
        }
    };
    let sslmode = sslmode.to_owned();
    server.0.retain(|(key, _)| *key != "sslmode");
    server.set("sslmode", sslmode)?;
    server.set("gssencmode", "disable")?;
    // Empty is not the same as absent: it keeps `PGHOSTADDR` out.
    server.set("hostaddr", "")?;
    for (key, value) in DEFAULTS {
        if server.get(key).is_none() {
            server.set(key, value)?;
        }
    }
    Ok(server)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(rest: &str, tls: Tls) -> Result<[String; 5], String> {
        let server = parse(rest, tls)?;
        let get = |key| server.get(key).unwrap_or_default().to_owned();
        Ok(["user", "host", "port", "dbname", "sslmode"].map(get))
    }

    fn words(text: &str) -> [String; 5] {
        let empty = |word: &str| if word == "-" { String::new() } else { word.to_owned() };
        let parts: Vec<String> = text.split(' ').map(empty).collect();
        parts.try_into().expect("five words")
    }

    // The forms are those of https://www.postgresql.org/docs/15/libpq-connect.html, section 34.1.1.2.
    #[test]
    fn reads_what_a_url_says() {
        for (rest, says) in [
            ("///fleet?host=/run/postgresql", "- /run/postgresql 5432 fleet disable"),
            ("///fleet?host=/tmp&port=5433&user=me", "me /tmp 5433 fleet disable"),
            ("//%2Frun%2Fpostgresql/fleet", "- /run/postgresql 5432 fleet disable"),
            ("//me@localhost:5433/fleet", "me localhost 5433 fleet disable"),
            ("//me:secret@127.0.0.9/fleet%2d1", "me 127.0.0.9 5432 fleet-1 disable"),
            ("//[::1]:5433/fleet?sslmode=disable", "- ::1 5433 fleet disable"),
        ] {
            assert_eq!(read(rest, Tls::Without), Ok(words(says)), "{rest}");
        }
    }

    #[test]
    fn refuses_what_it_cannot_be_sure_of() {
        for (rest, why) in [
            ("fleet", "`//`"),
            ("//localhost", "no database"),
            ("//localhost/", "no database"),
            ("///fleet", "no server"),
            ("//a,b/fleet", "several servers"),
            ("//localhost/fleet?colour=red", "`colour`"),
            ("//localhost/fleet?host=other", "`host` twice"),
            ("//localhost/fl%2", "percent sign"),
            ("//localhost/fl%ff", "percent sign"),
            ("//localhost/fl%00", "zero byte"),
            ("//[::1/fleet", "bracket"),
            ("///fleet?host=/tmp&sslmode=require", "a socket has no TLS"),
        ] {
            let refused = read(rest, Tls::With);
            assert!(refused.as_ref().is_err_and(|it| it.contains(why)), "{rest}: {refused:?}");
        }
    }

    const OTHERS: [&str; 4] =
        ["//db.example/fleet", "//192.0.2.7/fleet", "//[2001:db8::7]/fleet", "//0.0.0.0/fleet"];

    #[test]
    fn without_tls_only_this_machine_is_spoken_to() {
        for rest in OTHERS {
            for end in ["", "?sslmode=disable", "?sslmode=verify-full"] {
                let refused = read(&format!("{rest}{end}"), Tls::Without);
                assert!(refused.is_err_and(|it| it.contains("`postgres-tls`")), "{rest}{end}");
            }
        }
        let loopback = read("//localhost/fleet?sslmode=require", Tls::Without);
        assert!(loopback.is_err_and(|it| it.contains("`postgres-tls`")));
    }

    #[test]
    fn other_machines_have_to_prove_who_they_are() {
        let sslmode = |rest: &str| read(rest, Tls::With).map(|[.., sslmode]| sslmode);
        for rest in OTHERS {
            assert_eq!(sslmode(rest).as_deref(), Ok("verify-full"), "{rest}");
            for weak in ["disable", "allow", "prefer", "require", "verify-ca"] {
                let refused = sslmode(&format!("{rest}?sslmode={weak}"));
                assert!(refused.is_err_and(|it| it.contains("verify-full")), "{rest} {weak}");
            }
        }
        assert_eq!(sslmode("//localhost/fleet").as_deref(), Ok("prefer"));
        assert_eq!(sslmode("//localhost/fleet?sslmode=require").as_deref(), Ok("require"));
    }

    // https://www.postgresql.org/docs/15/libpq-connect.html, section 34.1.1.1: a backslash before each.
    #[test]
    fn a_value_cannot_smuggle_parameters_in() {
        let server = parse("//localhost/a'%20host='b%5C", Tls::Without).expect("read");
        let conninfo = server.conninfo();
        assert!(conninfo.contains(r"dbname='a\' host=\'b\\' "), "{conninfo}");
        assert!(conninfo.contains("hostaddr='' "), "{conninfo}");
        let debug = format!("{:?}", parse("//me:secret@localhost/x", Tls::Without));
        assert!(!debug.contains("secret"), "{debug}");
    }
}
