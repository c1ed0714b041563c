# One image for web, worker, beat and every manage.py command.
FROM python:3.11-slim-bookworm

# pg_dump and pg_restore for backups; bookworm brings version 15, as the compose file runs.
RUN apt-get update \
    && apt-get install --yes --no-install-recommends postgresql-client \
    && rm -rf /var/lib/apt/lists/*

ENV PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    RESTHEIGHT_BOOTSTRAP=off \
    RESTHEIGHT_DATA_DIR=/data

RUN useradd --system --uid 10001 --create-home restheight \
    && install --directory --owner=restheight --mode=700 /data
WORKDIR /app

COPY requirements.lock .
RUN pip install --no-cache-dir --require-hashes --requirement requirements.lock

COPY manage.py ./
COPY labsite labsite
COPY columns columns
COPY samples samples
COPY reports reports
COPY fixtures fixtures

USER restheight
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "labsite.wsgi", "--bind", "0.0.0.0:8000", "--worker-class", "gthread", \
     "--workers", "2", "--threads", "4", "--timeout", "60", \
     "--no-control-socket", "--preload"]
