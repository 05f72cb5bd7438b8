//! Ports on real pseudo-terminals and sockets: what is heard, and what
//! happens when the far end goes away.

mod daemon_common;

use std::time::Duration;

use cringle::clock::Clock;
use cringle::ports::{self, Clients, News, Place, Port, PortId, Senders, What};
use daemon_common::Pty;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::sync::mpsc;

const MWV: &[u8] = b"$WIMWV,214.8,R,15.6,N,A*1E";

/// Longer than any of these tests should wait; only a failure takes so long.
const PATIENCE: Duration = Duration::from_secs(20);

fn start(place: Place) -> (ports::Running, mpsc::Receiver<News>) {
    let (news, coming) = mpsc::channel(64);
    let port = Port {
        id: PortId(3),
        name: "mast".into(),
        place,
    };
    (ports::run(port, Clock::real(), news), coming)
}

/// The next news but for counts of bytes.
async fn next(coming: &mut mpsc::Receiver<News>) -> What {
    loop {
        let news = tokio::time::timeout(PATIENCE, coming.recv()).await;
        let news = news.expect("nothing was said").expect("the port has gone");
        assert_eq!(news.port, PortId(3));
        match news.what {
            What::Bytes { .. } => {}
            what => return what,
        }
    }
}

fn line(bytes: &[u8]) -> What {
    What::Line(ports::Line::from_slice(bytes).unwrap())
}

#[tokio::test]
async fn a_serial_line_pulled_and_plugged_again_is_survived_and_told() {
    let link = daemon_common::link();
    let mut pty = Pty::at(link.path());
    let (_running, mut coming) = start(Place::Serial {
        path: link.path().to_owned(),
        baud: 4800,
    });
    assert_eq!(next(&mut coming).await, What::Open);
    pty.write(MWV);
    pty.write(b"\r\n");
    assert_eq!(next(&mut coming).await, line(MWV));

    drop(pty);
    assert_eq!(next(&mut coming).await, What::Closed("hung up".into()));
    // Nothing is there yet: tried, and told.
    let tried = next(&mut coming).await;
    assert!(matches!(tried, What::Closed(why) if why.contains("cannot be opened")));

    let mut pty = Pty::at(link.path());
    assert_eq!(next(&mut coming).await, What::Open);
    // The end of a line whose beginning was not heard.
    pty.write(b"5.6,N,A*1E\r\n");
    pty.write(MWV);
    pty.write(b"\r\n");
    assert_eq!(next(&mut coming).await, line(MWV));
}

#[tokio::test]
async fn a_tcp_server_that_closes_is_connected_to_again() {
    let server = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = server.local_addr().unwrap().to_string();
    let (running, mut coming) = start(Place::Tcp {
        address,
        senders: Senders::OnlyReadings,
    });
    for _ in 0..2 {
        let (mut link, _) = server.accept().await.unwrap();
        assert_eq!(next(&mut coming).await, What::Open);
        link.write_all(MWV).await.unwrap();
        link.write_all(b"\n").await.unwrap();
        assert_eq!(next(&mut coming).await, line(MWV));
        assert!(running.send(MWV.into()));
        let mut heard = vec![0; MWV.len()];
        link.read_exact(&mut heard).await.unwrap();
        assert_eq!(heard, MWV);
        drop(link);
        assert!(matches!(next(&mut coming).await, What::Closed(_)));
    }
}

#[tokio::test]
async fn a_datagram_ends_its_last_line_even_without_a_line_end() {
    let free = tokio::net::UdpSocket::bind("127.0.0.1:0").await.unwrap();
    let listen = free.local_addr().unwrap().to_string();
    drop(free);
    let (_running, mut coming) = start(Place::Udp {
        listen: listen.clone(),
        send_to: None,
        senders: Senders::OnlyReadings,
    });
    assert_eq!(next(&mut coming).await, What::Open);
    let sender = tokio::net::UdpSocket::bind("127.0.0.1:0").await.unwrap();
    sender.send_to(MWV, &listen).await.unwrap();
    assert_eq!(next(&mut coming).await, line(MWV));
}

fn server(address: &str, clients: Clients) -> Place {
    Place::ServeTcp {
        address: address.to_owned(),
        clients,
    }
}

/// What a server of ours heard of a reading, an answer to an alert with a
/// reading behind it, and an answer.
async fn heard_of(clients: Clients) -> Vec<What> {
    const ANSWER: &[u8] = b"$BNACK,101*4F";
    let free = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = free.local_addr().unwrap().to_string();
    drop(free);
    let (running, mut coming) = start(server(&address, clients));
    assert_eq!(next(&mut coming).await, What::Open);
    let mut client = tokio::net::TcpStream::connect(&address).await.unwrap();
    let said = [MWV, b"\r\n", ANSWER, MWV, b"\r\n", ANSWER, b"\r\n"].concat();
    client.write_all(&said).await.unwrap();
    // Once it is closed there too, all that came before has been read.
    client.shutdown().await.unwrap();
    client.read_to_end(&mut Vec::new()).await.unwrap();
    drop(running);
    let mut heard = Vec::new();
    while let Some(news) = coming.recv().await {
        heard.extend(Some(news.what).filter(|it| matches!(it, What::Line(_))));
    }
    heard
}

#[tokio::test]
async fn clients_of_a_server_of_ours_do_only_what_they_may() {
    assert_eq!(heard_of(Clients::OnlyListen).await, []);
    let answer = line(b"$BNACK,101*4F");
    let twice = [answer.clone(), answer.clone()];
    assert_eq!(heard_of(Clients::MayAcknowledge).await, twice);
    let all = heard_of(Clients::MaySpeak).await;
    let [reading, behind] = [line(MWV), line(MWV)];
    assert_eq!(all, [reading, answer.clone(), behind, answer]);
}

#[tokio::test]
async fn a_server_of_ours_hears_and_tells_many_clients() {
    let free = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = free.local_addr().unwrap().to_string();
    drop(free);
    let (running, mut coming) = start(server(&address, Clients::MaySpeak));
    assert_eq!(next(&mut coming).await, What::Open);
    let mut clients = Vec::new();
    for _ in 0..3 {
        let mut client = tokio::net::TcpStream::connect(&address).await.unwrap();
        client.write_all(MWV).await.unwrap();
        client.write_all(b"\r\n").await.unwrap();
        assert_eq!(next(&mut coming).await, line(MWV));
        clients.push(client);
    }
    assert!(running.send(MWV.into()));
    for client in &mut clients {
        let mut heard = vec![0; MWV.len()];
        client.read_exact(&mut heard).await.unwrap();
        assert_eq!(heard, MWV);
    }
}

#[tokio::test]
async fn a_gzipped_file_is_read_to_its_end_and_not_again() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("log.nmea.gz");
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    for _ in 0..3 {
        std::io::Write::write_all(&mut packed, MWV).unwrap();
        std::io::Write::write_all(&mut packed, b"\r\n").unwrap();
    }
    std::fs::write(&path, packed.finish().unwrap()).unwrap();
    let (_running, mut coming) = start(Place::File { path, baud: None });
    assert_eq!(next(&mut coming).await, What::Open);
    for _ in 0..3 {
        assert_eq!(next(&mut coming).await, line(MWV));
    }
    assert_eq!(next(&mut coming).await, What::Ended);
}

/// How many acknowledgements a port hears of those sent to it before a reading.
async fn heard_by_datagram(senders: Senders) -> usize {
    let free = tokio::net::UdpSocket::bind("127.0.0.1:0").await.unwrap();
    let listen = free.local_addr().unwrap().to_string();
    drop(free);
    let (running, mut coming) = start(Place::Udp {
        listen: listen.clone(),
        send_to: None,
        senders,
    });
    assert_eq!(next(&mut coming).await, What::Open);
    let sender = tokio::net::UdpSocket::bind("127.0.0.1:0").await.unwrap();
    let hidden = b"\\s:$WIMWV,*00\\$BNACN,,,10101,1,A,C*00".as_slice();
    for datagram in [
        b"$BNACN,,,10101,1,A,C*00".as_slice(),
        b"$BNACK,101*4F",
        hidden,
        MWV,
    ] {
        sender.send_to(datagram, &listen).await.unwrap();
    }
    let mut heard = 0;
    loop {
        match coming.recv().await.unwrap().what {
            What::Line(line) if line.as_slice() == MWV => break,
            What::Line(line) => {
                // What is parted from a sentence that hides another is no matter.
                let is_one = |part: &[u8]| part == b"ACN" || part == b"ACK";
                heard += usize::from(line.windows(3).any(is_one));
            }
            _ => {}
        }
    }
    drop(running);
    heard
}

#[tokio::test]
async fn a_datagram_of_anybody_acknowledges_nothing_unless_the_boat_file_lets_it() {
    assert_eq!(heard_by_datagram(Senders::OnlyReadings).await, 0);
    assert_eq!(heard_by_datagram(Senders::MayAcknowledge).await, 3);
}

#[tokio::test]
async fn forty_idle_clients_do_not_shut_out_the_next() {
    let free = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = free.local_addr().unwrap().to_string();
    drop(free);
    let (running, mut coming) = start(server(&address, Clients::OnlyListen));
    assert_eq!(next(&mut coming).await, What::Open);
    let mut idle = Vec::new();
    for _ in 0..40 {
        idle.push(tokio::net::TcpStream::connect(&address).await.unwrap());
    }
    let mut client = tokio::net::TcpStream::connect(&address).await.unwrap();
    let mut heard = [0; 1];
    for _ in 0..100 {
        running.send(MWV.into());
        let read = client.read(&mut heard);
        if let Ok(read) = tokio::time::timeout(Duration::from_millis(50), read).await {
            assert_eq!(read.unwrap(), 1);
            return;
        }
    }
    panic!("the forty-first hears nothing");
}
