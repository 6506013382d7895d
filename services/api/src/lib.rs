//! The JSON API and the inspector's pages.
//!
//! [`configure`] adds both to an actix application that holds an [`App`]. What a handler may do follows from
//! the extractor in its signature ([`auth`]); what is wrong with a request is told by [`problem`]; bodies are
//! read by [`read`].

pub mod auth;
pub mod problem;
pub mod read;

mod access;
mod answers;
mod app;
mod call;
mod check;
mod evidence;
mod export;
mod form;
mod layer;
mod pages;
mod programmes;
mod recount;
mod requests;
mod routes;
mod search;
mod versions;
mod visits;
mod write;

pub use app::{App, Endpoint, configure};
pub use export::OwnerExport;
pub use programmes::Cache;
pub use recount::{keep_counted, recount_all};
pub use routes::all as endpoints;
