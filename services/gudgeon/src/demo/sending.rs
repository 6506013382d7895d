//! Sends the story to the running service, as its operator and its workshops would.

use super::story::{self, ACTIVATED_ON, ENGINE_TYPES, Post};
use crate::clock;
use serde_json::{Value, json};
use std::error::Error;
use std::io::{self, IsTerminal, Write};

/// The keys of everybody in the story.
pub(super) struct Keys {
    pub(super) operator: String,
    pub(super) inspector: String,
    /// By the short name of the workshop.
    pub(super) shops: Vec<(String, String)>,
}

impl Keys {
    fn of(&self, name: &str) -> Result<&str, Box<dyn Error>> {
        match name {
            "operator" => return Ok(&self.operator),
            "inspector" => return Ok(&self.inspector),
            _ => {}
        }
        let shop = self.shops.iter().find(|(shop, _)| shop == name);
        shop.map(|(_, key)| key.as_str())
            .ok_or_else(|| format!("the story has no workshop `{name}`").into())
    }
}

/// A client of the service.
pub(super) struct Sending {
    agent: ureq::Agent,
    base_url: String,
}

impl Sending {
    pub(super) fn new(base_url: &str) -> Self {
        let config = ureq::Agent::config_builder().http_status_as_error(false).build();
        Self { agent: config.into(), base_url: base_url.to_owned() }
    }

    /// Sends the engine types and the whole story; gives the number of requests.
    pub(super) fn send_all(&self, keys: &mut Keys) -> Result<usize, Box<dyn Error>> {
        let types = self.send_types(&keys.operator)?;
        let posts = story::posts(clock::day_of(clock::now()))?;
        for (count, post) in posts.iter().enumerate() {
            let body = post.body.to_string();
            self.put(&post.put, keys.of(&post.by)?, "application/json", &body)?;
            if let Some(shop) = &post.shop {
                keys.shops.push((shop.clone(), self.key_for(post, &keys.operator)?));
            }
            show_progress(count + 1, posts.len())?;
        }
        Ok(posts.len() + types)
    }

    /// Sends and activates every engine type of the story; gives the number of requests.
    fn send_types(&self, operator: &str) -> Result<usize, Box<dyn Error>> {
        for (at, (name, file)) in ENGINE_TYPES.iter().enumerate() {
            let path = format!("/v1/engine-types/{name}");
            let version = self.put(&path, operator, "application/toml", file)?;
            let digest = version.get("digest").ok_or("no digest in the answer")?;
            let activated = json!({ "on": ACTIVATED_ON, "digest": digest }).to_string();
            let id = format!("0193f000-0000-7000-8000-{at:012x}");
            self.put(
                &format!("{path}/activations/{id}"),
                operator,
                "application/json",
                &activated,
            )?;
        }
        Ok(2 * ENGINE_TYPES.len())
    }

    fn put(&self, path: &str, key: &str, kind: &str, body: &str) -> Result<Value, Box<dyn Error>> {
        let url = format!("{}{path}", self.base_url);
        let request = self.agent.put(&url).header("authorization", &format!("Bearer {key}"));
        let mut response = request.header("content-type", kind).send(body)?;
        // Reading the answer to its end lets the connection be used again.
        let answer = response.body_mut().read_to_string()?;
        if response.status().is_success() {
            return Ok(serde_json::from_str(&answer)?);
        }
        Err(format!("PUT {path} with {body} was answered {}: {answer}", response.status()).into())
    }

    /// A key for the workshop just registered.
    fn key_for(&self, post: &Post, operator: &str) -> Result<String, Box<dyn Error>> {
        let url = format!("{}{}/keys", self.base_url, post.put);
        let request = self.agent.post(&url).header("authorization", &format!("Bearer {operator}"));
        let body = json!({"label": "the demonstration's bench"}).to_string();
        let mut response = request.header("content-type", "application/json").send(body)?;
        let answer: Value = serde_json::from_str(&response.body_mut().read_to_string()?)?;
        let key = answer.get("key").and_then(Value::as_str).ok_or("no key in the answer")?;
        Ok(key.to_owned())
    }
}

/// One line that is written over again, on a terminal only.
fn show_progress(done: usize, all: usize) -> io::Result<()> {
    let mut err = io::stderr();
    if err.is_terminal() && (done.is_multiple_of(50) || done == all) {
        let end = if done == all { "\n" } else { "\r" };
        write!(err, "posting the story: {done} of {all}{end}")?;
    }
    Ok(())
}
