//! The export of all that concerns an owner, sent as it is read.

use crate::auth::Operator;
use crate::call::Call;
use crate::export::OwnerExport;
use crate::problem::Problem;
use actix_web::body::{BodySize, MessageBody};
use actix_web::error::BlockingError;
use actix_web::http::header;
use actix_web::web::Bytes;
use actix_web::{HttpResponse, web};
use gudgeon_life::ids::PartyId;
use std::error::Error;
use std::future::Future;
use std::pin::Pin;
use std::task::{Context, Poll};

pub(super) async fn get(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    let owner = PartyId(call.uid("id")?);
    let (app, now) = (call.app.clone(), call.now);
    let export = web::block(move || OwnerExport::of(&app.store, owner, now)).await??;
    let export = export.ok_or_else(|| Problem::not_found("owner"))?;
    let name = format!("attachment; filename=\"owner-{owner}.json\"");
    Ok(HttpResponse::Ok()
        .content_type("application/json")
        .insert_header((header::CONTENT_DISPOSITION, name))
        .body(Pieces(read_next(export))))
}

/// An export and the piece that was read of it.
type Read = (OwnerExport, Option<Result<String, Problem>>);
type Reading = Pin<Box<dyn Future<Output = Result<Read, BlockingError>>>>;

/// The body: each piece is read on a thread that may block, while the one before is on its way.
struct Pieces(Reading);

fn read_next(mut export: OwnerExport) -> Reading {
    Box::pin(web::block(move || {
        let piece = export.next();
        (export, piece)
    }))
}

impl MessageBody for Pieces {
    type Error = Box<dyn Error>;

    fn size(&self) -> BodySize {
        BodySize::Stream
    }

    fn poll_next(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Bytes, Self::Error>>> {
        // An answer under way can no longer say what failed: it breaks off, and is no JSON then.
        match self.0.as_mut().poll(context) {
            Poll::Pending => Poll::Pending,
            Poll::Ready(Ok((_, None))) => Poll::Ready(None),
            Poll::Ready(Ok((export, Some(Ok(piece))))) => {
                self.0 = read_next(export);
                Poll::Ready(Some(Ok(Bytes::from(piece))))
            }
            Poll::Ready(Ok((_, Some(Err(problem))))) => {
                if let Some(cause) = problem.cause() {
                    tracing::error!(cause, "an export broke off");
                }
                Poll::Ready(Some(Err(problem.to_string().into())))
            }
            Poll::Ready(Err(error)) => Poll::Ready(Some(Err(error.into()))),
        }
    }
}
