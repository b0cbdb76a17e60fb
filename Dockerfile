# One image for every process: the pages, the worker, the clock, the live screens, migrate.
FROM python:3.11-slim-bookworm

# What lays out the packet's pages.
RUN apt-get update \
 && apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 \
 && rm -rf /var/lib/apt/lists/*

WORKDIR /srv/baywright
COPY requirements.txt .
RUN python -m pip install --no-cache-dir --require-hashes --only-binary :all: -r requirements.txt
COPY . .
RUN python -m compileall -q builds inventory config \
 && useradd --system --home-dir /var/lib/baywright --create-home baywright \
 && install -d -o baywright -g baywright /var/lib/baywright/media

USER baywright
ENV PYTHONUNBUFFERED=1
EXPOSE 8000 8001
CMD ["python", "-m", "gunicorn", "config.wsgi:application", "--config", "python:config.web_server", "--bind", "0.0.0.0:8000"]
