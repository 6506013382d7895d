//! Signing in with a key and out again.

use super::{Frame, html, rendered};
use crate::app::App;
use crate::auth;
use crate::call::Call;
use crate::form::Form;
use crate::problem::Problem;
use actix_web::http::{StatusCode, header};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct SignIn {
    refused: bool,
}

/// The form.
pub(super) async fn form(app: web::Data<App>) -> Result<HttpResponse, Problem> {
    Ok(html(page(app.demo, false)?))
}

/// Trades the key of the form for a short-lived one in a cookie.
pub(super) async fn enter(call: Call) -> Result<HttpResponse, Problem> {
    let app = call.app.clone();
    let form = Form::of(call).await?;
    let Some(cookie) = auth::sign_in(&app, form.get("key")).await? else {
        let mut refused = html(page(app.demo, true)?);
        *refused.status_mut() = StatusCode::FORBIDDEN;
        return Ok(refused);
    };
    Ok(to("/", cookie))
}

/// Ends the session.
pub(super) async fn leave(app: web::Data<App>, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let cookie = auth::sign_out(&app, &req).await?;
    Ok(to("/sign-in", cookie))
}

pub(super) fn page(demo: bool, refused: bool) -> Result<String, Problem> {
    let frame = Frame { title: "Sign in".to_owned(), reader: None, demo };
    rendered("sign-in.html", frame, &SignIn { refused })
}

fn to(place: &str, cookie: header::HeaderValue) -> HttpResponse {
    HttpResponse::SeeOther()
        .insert_header((header::LOCATION, place))
        .insert_header((header::SET_COOKIE, cookie))
        .finish()
}
