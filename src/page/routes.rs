//! Which address leads to which screen.

use axum::Router;
#[cfg(feature = "photo")]
use axum::extract::DefaultBodyLimit;
use axum::extract::Path;
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use axum::response::Response;
use axum::routing::{get, post};

use super::answer::refused;
use super::state::{House, Settings, Shared};
use super::{assets, body, clocks, compare, guard, jars, next, pour, today, tone, why};
#[cfg(feature = "photo")]
use super::{board, chip, photo};

/// The page of `settings`, to be asked without a socket: every answer is what a browser would get.
pub fn app(settings: Settings) -> Router {
    let shared = House::new(settings);
    let router: Router<Shared> = Router::new()
        .route("/", get(today::show))
        .route("/revision", get(today::revision))
        .route("/clocks", get(clocks::list))
        .route("/tone", get(tone::ask))
        .route("/tone/typed", post(tone::typed))
        .route("/parts", post(tone::make))
        .route("/parts/{name}/clock", post(clocks::set))
        .route("/parts/{name}/pour", get(pour::show))
        .route("/parts/{name}/poured", post(jars::poured))
        .route(
            "/parts/{name}/compare",
            get(compare::ask).post(compare::answer),
        )
        .route("/parts/{name}/beside", get(compare::beside))
        .route("/parts/{name}/why", get(why::show))
        .route("/parts/{name}/nudge", get(why::nudged))
        .route("/next", get(next::show))
        .route("/worker.js", get(|| async { file(assets::WORKER) }))
        .route(
            "/files/{name}",
            get(|Path(name): Path<String>| async move { file(&name) }),
        );
    #[cfg(feature = "photo")]
    let router = router.route("/pictures/{name}", get(photo::picture)).merge(
        // Each ends in `/photo`: so much may come in there.
        Router::new()
            .route("/tone/photo", post(tone::photo))
            .route("/board/photo", get(board::ask).post(board::read))
            .route("/parts/{name}/photo", get(chip::ask).post(chip::read))
            .layer(DefaultBodyLimit::disable()),
    );
    router
        .fallback(|| async { refused(StatusCode::NOT_FOUND, "There is no such screen.") })
        .method_not_allowed_fallback(|| async {
            refused(
                StatusCode::METHOD_NOT_ALLOWED,
                "This address is asked for in another way.",
            )
        })
        .layer(from_fn_with_state(Shared::clone(&shared), body::read_whole))
        .layer(from_fn_with_state(Shared::clone(&shared), guard::watch))
        .with_state(shared)
}

fn file(name: &str) -> Response {
    assets::file(name)
        .unwrap_or_else(|| refused(StatusCode::NOT_FOUND, "There is no such file here."))
}
