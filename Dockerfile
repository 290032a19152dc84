# A static program in an empty image: SQLite is compiled in (cgo), zones and
# certificates come along.
FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
ARG VERSION=dev
RUN CGO_ENABLED=1 go build -trimpath \
    -tags osusergo,netgo,sqlite_omit_load_extension \
    -ldflags "-s -w -extldflags -static -X winterstand/internal/app.Version=${VERSION}" \
    -o /winterstand ./cmd/winterstand \
 && mkdir -p /data

FROM scratch
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/ca-certificates.crt
COPY --from=build /winterstand /winterstand
COPY --from=build --chown=65532:65532 /data /data
USER 65532:65532
ENV WINTERSTAND_LISTEN=0.0.0.0:8080 WINTERSTAND_DATABASE=sqlite:/data/winterstand.db
VOLUME /data
EXPOSE 8080
ENTRYPOINT ["/winterstand"]
CMD ["serve"]
