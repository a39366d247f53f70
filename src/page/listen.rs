//! The sockets: one listener, so many connections, each with an end to its silence.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;

use super::doors::Doors;
use super::key::Key;
use super::routes::app;
use super::state::Settings;
use crate::error::{Error, Result};

/// Connections at a time; a browser opens six.
const CONNECTIONS: usize = 96;

/// How long a client may take over the head of a request, its silence between two of them included.
const HEAD_TIME: Duration = Duration::from_secs(5);

/// How long a connection may live: the longest answer with the longest body, and then it is opened anew.
const CONNECTION_TIME: Duration = Duration::from_secs(300);

/// How long what is under way may take to end, once the server is told to.
const END_TIME: Duration = Duration::from_secs(5);

/// What listens, and how to reach it.
#[derive(Debug)]
pub struct Listening {
    /// Its address on this machine, as it is opened in a browser.
    pub address: String,
    /// Its address for others on the network, with its key, where it is opened to them.
    pub others: Option<String>,
}

/// Serves the page of `book` at `port` (any free one with 0) until an interrupt from the keyboard, and says where by `listening`.
/// This machine alone is served; with `lan`, whoever has the key that is made anew each time: at that address of this machine, or
/// at the one by which it reaches its network.
///
/// # Errors
/// A port that is taken or not allowed; no network to open the page to; no source of chance for a key; what `listening` fails at.
pub fn serve(
    book: Option<PathBuf>,
    port: u16,
    lan: Option<Option<IpAddr>>,
    listening: impl FnOnce(&Listening) -> Result<()>,
) -> Result<()> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|cause| {
            Error::input(format!("this machine starts no threads: {cause}"))
                .mend("end other programs")
        })?;
    let lan = lan
        .map(|address| address.map_or_else(own_address, Ok))
        .transpose()?;
    let outcome = runtime.block_on(async {
        let listener = bind(lan, port).await?;
        let port = listener.local_addr().map_or(port, |bound| bound.port());
        let mut told = Listening {
            address: format!("http://127.0.0.1:{port}/"),
            others: None,
        };
        let mut doors = Doors::local(port);
        if let Some(address) = lan {
            let key = Key::new()?;
            let at = SocketAddr::new(address, port);
            told.address.push_str(&format!("?key={}", key.as_str()));
            told.others = Some(format!("http://{at}/?key={}", key.as_str()));
            doors = doors.opened(address, key);
        }
        listening(&told)?;
        attend(listener, app(Settings { book, doors }), interrupted()).await;
        Ok(())
    });
    // A search that nobody waits for any more is not waited for either; what writes has ended with its request, or is ended by
    // the next that opens the book.
    runtime.shutdown_timeout(END_TIME);
    outcome
}

async fn interrupted() {
    if tokio::signal::ctrl_c().await.is_err() {
        // Where it can't be caught it ends the program as it always does.
        std::future::pending::<()>().await;
    }
}

async fn bind(lan: Option<IpAddr>, port: u16) -> Result<TcpListener> {
    let address = match lan {
        // All of this machine's, so that its own browser finds the page too.
        Some(IpAddr::V6(_)) => IpAddr::V6(std::net::Ipv6Addr::UNSPECIFIED),
        Some(IpAddr::V4(_)) => IpAddr::V4(Ipv4Addr::UNSPECIFIED),
        None => IpAddr::V4(Ipv4Addr::LOCALHOST),
    };
    TcpListener::bind(SocketAddr::new(address, port))
        .await
        .map_err(|cause| {
            let finding = match cause.kind() {
                io::ErrorKind::AddrInUse => format!("port {port} is taken by another program"),
                io::ErrorKind::PermissionDenied => {
                    format!("port {port} is kept for the system's own programs")
                }
                _ => format!("cannot listen at port {port}: {cause}"),
            };
            Error::input(finding).mend("choose another with --port, or any free one with --port 0")
        })
}

/// The address by which this machine reaches its network. Nothing is sent.
fn own_address() -> Result<IpAddr> {
    /// An address that is kept for documents: RFC 5737.
    const ELSEWHERE: (Ipv4Addr, u16) = (Ipv4Addr::new(192, 0, 2, 1), 9);
    let found = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        socket.connect(ELSEWHERE)?;
        Ok(socket.local_addr()?.ip())
    });
    found
        .ok()
        .filter(|address| !address.is_loopback())
        .ok_or_else(|| {
            Error::input("this machine has no network to open the page to")
                .mend("join one, or name this machine's address with --lan=ADDRESS")
        })
}

/// Serves `app` to whoever connects to `listener`, until `ended`.
pub(super) async fn attend(listener: TcpListener, app: Router, ended: impl Future<Output = ()>) {
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    let graceful = GracefulShutdown::new();
    let mut ended = std::pin::pin!(ended);
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            () = &mut ended => break,
        };
        let Ok((stream, _)) = accepted else {
            // No more files, or a client that is gone already: others may be served a little later.
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        // Whoever comes when all places are taken is turned away at once, and those who have one go on.
        let Ok(place) = Arc::clone(&places).try_acquire_owned() else {
            continue;
        };
        let connection = graceful.watch(connection(stream, app.clone()));
        tokio::spawn(async move {
            // A client that breaks off is no fault of this program.
            let _ = tokio::time::timeout(CONNECTION_TIME, connection).await;
            drop(place);
        });
    }
    drop(listener);
    let _ = tokio::time::timeout(END_TIME, graceful.shutdown()).await;
}

type Connection = http1::Connection<TokioIo<TcpStream>, TowerToHyperService<Router>>;

fn connection(stream: TcpStream, app: Router) -> Connection {
    http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_headers(64)
        .max_buf_size(64 << 10)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(app))
}
