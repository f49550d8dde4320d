FROM rust:1.95-bookworm AS build
WORKDIR /src
COPY . .
RUN cargo build --release --locked

FROM debian:bookworm-slim
RUN apt-get update \
    && apt-get install --yes --no-install-recommends ca-certificates curl \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --system --create-home --home-dir /var/lib/scrapwright scrapwright \
    && install -d -o scrapwright /var/lib/scrapwright/backups
COPY --from=build /src/target/release/scrapwright /usr/local/bin/scrapwright
USER scrapwright
WORKDIR /var/lib/scrapwright
VOLUME /var/lib/scrapwright
ENV SCRAPWRIGHT_DATA=/var/lib/scrapwright/workshop.db \
    SCRAPWRIGHT_LISTEN=0.0.0.0:8080 \
    SCRAPWRIGHT_BACKUP_FOLDER=/var/lib/scrapwright/backups
EXPOSE 8080
HEALTHCHECK --interval=30s --timeout=5s --start-period=10s CMD curl --fail --silent http://127.0.0.1:8080/readyz
ENTRYPOINT ["scrapwright"]
CMD ["serve"]
