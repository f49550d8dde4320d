use askama::Template;
use axum::response::Response;

use crate::web::{Error, Routes, Section, Shell, Who, page};

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    shell: Shell,
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes.get("/", Who::Visitor, show)
}

async fn show(shell: Shell) -> Result<Response, Error> {
    page(&TodayPage {
        shell: shell.at(Section::Today),
    })
}
