# One image for web, worker, beat and the one-shot jobs; compose gives each its command.
FROM python:3.11-slim-bookworm AS packages
WORKDIR /app
COPY requirements.txt .
RUN python -m venv /venv && /venv/bin/pip install --no-cache-dir --require-hashes -r requirements.txt

FROM python:3.11-slim-bookworm
RUN useradd --system --uid 10001 --create-home labflow
COPY --from=packages /venv /venv
WORKDIR /app
COPY . .
ENV PATH=/venv/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    LABFLOW_PRODUCTION=1 \
    LABFLOW_STATIC=/app/static-hashed \
    LABFLOW_VAR=/data \
    NUMBA_CACHE_DIR=/compiled \
    NUMBA_CPU_NAME=generic
# The key of this one command signs nothing and is not kept.
RUN mkdir /data /compiled \
    && LABFLOW_SECRET_KEY=only-for-collecting-static-files python manage.py collectstatic --no-input \
    && chown -R labflow:labflow /data /compiled
USER labflow
# Compiled here, for any machine of this kind, so that no start of a container waits for it.
RUN LABFLOW_SECRET_KEY=only-for-compiling-the-planner python manage.py compile_planner
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "labflow.wsgi:application", "--bind", "0.0.0.0:8000", \
     "--worker-class", "gthread", "--workers", "3", "--threads", "4", \
     "--timeout", "60", "--access-logfile", "-", "--no-control-socket"]
