# The program alone, static, as a user without rights. Build: docker build -t halfsplit .
# Run: docker run -it -v halfsplit:/data halfsplit
FROM golang:1.26 AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN CGO_ENABLED=0 go build -trimpath -ldflags="-s -w" -o /out/halfsplit ./cmd/halfsplit \
 && mkdir -p /out/data

FROM scratch
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/
COPY --from=build /out/halfsplit /halfsplit
COPY --from=build --chown=65532:65532 /out/data /data
USER 65532:65532
ENV XDG_STATE_HOME=/data
VOLUME /data
ENTRYPOINT ["/halfsplit"]
