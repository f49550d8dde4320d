//! A browser's side of HTTP/1.1, as small as it can be: connections that stay open, answers read to their end.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

/// A connection to a server.
pub struct Connection {
    reader: BufReader<TcpStream>,
    address: String,
    identity: String,
}

impl Connection {
    /// `identity` is a header line such as `cookie: ..`, or empty.
    pub fn open(address: &str, identity: &str) -> Connection {
        let stream = TcpStream::connect(address).expect("the server listens");
        stream.set_nodelay(true).expect("a socket has this option");
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .expect("a minute is a timeout");
        Connection {
            reader: BufReader::new(stream),
            address: address.to_owned(),
            identity: identity.to_owned(),
        }
    }

    /// Sends a request and reads its whole answer; gives the length of the body as it was transferred.
    pub fn ask(&mut self, request: &Request) -> usize {
        let identity = if self.identity.is_empty() {
            String::new()
        } else {
            format!("{}\r\n", self.identity)
        };
        let text = format!(
            "{} {} HTTP/1.1\r\nhost: {}\r\naccept-encoding: gzip\r\n{identity}content-type: application/json\r\n\
             content-length: {}\r\n\r\n{}",
            request.method,
            request.path,
            self.address,
            request.body.len(),
            request.body
        );
        self.reader
            .get_mut()
            .write_all(text.as_bytes())
            .expect("the server reads");
        let status = self.line();
        let mut length = None;
        loop {
            let line = self.line().to_ascii_lowercase();
            if line.is_empty() {
                break;
            }
            if let Some(value) = line.strip_prefix("content-length: ") {
                length = value.parse::<usize>().ok();
            }
        }
        let read = match length {
            Some(length) => self.skip(length),
            None => self.skip_chunks(),
        };
        assert!(
            status.starts_with("HTTP/1.1 2"),
            "{} {}: {status}",
            request.method,
            request.path
        );
        read
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.reader
            .read_line(&mut line)
            .expect("the server answers");
        line.trim_end().to_owned()
    }

    fn skip(&mut self, length: usize) -> usize {
        let mut body = vec![0; length];
        self.reader.read_exact(&mut body).expect("a whole body");
        length
    }

    fn skip_chunks(&mut self) -> usize {
        let mut read = 0;
        loop {
            let length = usize::from_str_radix(&self.line(), 16).expect("the length of a chunk");
            read += self.skip(length);
            self.line();
            if length == 0 {
                return read;
            }
        }
    }
}

/// What is asked.
#[derive(Clone)]
pub struct Request {
    pub name: &'static str,
    pub method: &'static str,
    pub path: String,
    pub body: String,
}

impl Request {
    pub fn get(name: &'static str, path: impl Into<String>) -> Request {
        Request {
            name,
            method: "GET",
            path: path.into(),
            body: String::new(),
        }
    }
}
