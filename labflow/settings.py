"""The one settings file. Everything that differs between installations is in the environment.

Two ways to run: *embedded* (the default: SQLite, local files, no Redis, one command) and
*production* (``LABFLOW_PRODUCTION=1``: PostgreSQL, Redis, one beat, https).
"""

from __future__ import annotations

import socket
from pathlib import Path

from labflow.env import Env, database, email, secret_key

env = Env.of_process()

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = env.path("LABFLOW_VAR", BASE_DIR / "var")
VAR_DIR.mkdir(mode=0o750, parents=True, exist_ok=True)

# --- How it runs -----------------------------------------------------------------------------
PRODUCTION = env.flag("LABFLOW_PRODUCTION", default=False)
HTTPS = env.flag("LABFLOW_HTTPS", default=PRODUCTION)
DEBUG = env.flag("LABFLOW_DEBUG", default=False) and not PRODUCTION
DEMO = env.flag("LABFLOW_DEMO", default=False)

if PRODUCTION:
    SECRET_KEY = env.required(
        "LABFLOW_SECRET_KEY",
        "Sign-ins and links are signed with it: at least 50 random characters.",
    )
    ALLOWED_HOSTS = env.names("LABFLOW_HOSTS")
else:
    SECRET_KEY = env.text("LABFLOW_SECRET_KEY") or secret_key(VAR_DIR / "secret-key")
    _host = socket.gethostname().lower()
    ALLOWED_HOSTS = [
        "localhost",
        "127.0.0.1",
        "[::1]",
        _host,
        f"{_host}.local",
        *env.names("LABFLOW_HOSTS"),
    ]
SECRET_KEY_FALLBACKS = env.names("LABFLOW_OLD_SECRET_KEYS")

# --- What it is made of ----------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "template_partials",
    "cases",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "labflow.middleware.security_headers",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "cases.views.visitor.identify",
]
ROOT_URLCONF = "labflow.urls"
WSGI_APPLICATION = "labflow.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "cases.views.frame.frame",
            ],
        },
    },
]

# --- Where it keeps things -------------------------------------------------------------------
DATABASES = {
    "default": database(
        env.text("LABFLOW_DATABASE"),
        default_file=VAR_DIR / "labflow.sqlite3",
        test_file=VAR_DIR / "test.sqlite3",
    )
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = env.text("LABFLOW_REDIS")
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": REDIS_URL,
        "KEY_PREFIX": "labflow",
    }
    if REDIS_URL
    else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
}

# Files of patients' cases are handed out by views that ask who wants them, never by address.
MEDIA_ROOT = env.path("LABFLOW_FILES", VAR_DIR / "files")
FILE_UPLOAD_PERMISSIONS = 0o640
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o750
UPLOAD_MAX_BYTES = env.number("LABFLOW_UPLOAD_MAX_MB", 25, least=1) * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FILES = 20
FILE_UPLOAD_HANDLERS = ["labflow.uploads.InMemoryHandler"]
# Where loggers write what the baths do; a file of it is bound to its bath by a manager.
FEED_DIR = env.path("LABFLOW_FEED", VAR_DIR / "feed")
BACKUP_DIR = env.path("LABFLOW_BACKUPS", VAR_DIR / "backups")
BACKUPS_KEPT = env.number("LABFLOW_BACKUPS_KEPT", 14, least=1)

STATIC_URL = "static/"
STATIC_ROOT = env.path("LABFLOW_STATIC", VAR_DIR / "static")
STATICFILES_DIRS = [BASE_DIR / "static"]
# Only what stands in static/: the files that packages bring along are not used here.
STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.FileSystemFinder"]
# Embedded serves static/ as it stands, so nothing has to be collected before the first start.
WHITENOISE_USE_FINDERS = not PRODUCTION
if not PRODUCTION:
    STATIC_ROOT.mkdir(parents=True, exist_ok=True)
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_ALLOW_ALL_ORIGINS = False
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "labflow.static_storage.HashedStaticStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}

# --- Time and words --------------------------------------------------------------------------
# Instants are stored, compared and added in UTC; the lab's own zone is a row of the lab.
TIME_ZONE = "UTC"
USE_TZ = True
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English")]
LOCALE_PATHS = [BASE_DIR / "locale"]

# --- Who may come in -------------------------------------------------------------------------
LOGIN_URL = "cases:sign-in"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_TRUSTED_ORIGINS = env.names("LABFLOW_ORIGINS")
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
# The health check and a proxy on the same machine speak http; the proxy says what came in.
BEHIND_PROXY = env.flag("LABFLOW_BEHIND_PROXY", default=False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
if PRODUCTION:
    SECURE_SSL_REDIRECT = HTTPS
    SECURE_HSTS_SECONDS = env.number("LABFLOW_HSTS_SECONDS", 365 * 24 * 3600) if HTTPS else 0
    # Only the owner of the domain can promise https for the names beside the lab's.
    SECURE_HSTS_INCLUDE_SUBDOMAINS = env.flag("LABFLOW_HSTS_WHOLE_DOMAIN", default=False)
    SECURE_HSTS_PRELOAD = SECURE_HSTS_INCLUDE_SUBDOMAINS
    SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# --- Mail ------------------------------------------------------------------------------------
globals().update(email(env.text("LABFLOW_EMAIL"), folder=VAR_DIR / "mail"))
DEFAULT_FROM_EMAIL = env.text("LABFLOW_EMAIL_FROM", "labflow@localhost")
SERVER_EMAIL = DEFAULT_FROM_EMAIL

# --- The clock's door: Celery ----------------------------------------------------------------
SWEEP_EVERY_SECONDS = 15
COPY_LOOK_EVERY_SECONDS = 600
PLAN_LOOK_EVERY_SECONDS = 3
REMEDY_LOOK_EVERY_SECONDS = 5
PLANNING_QUEUE = "planning"
COMPILED = env.flag("LABFLOW_COMPILED", default=True)
# With one thread the solver has none to try parts of a plan anew, and hardly gets on.
PLAN_THREADS = env.number("LABFLOW_PLAN_THREADS", 2, least=1)
QUEUE_FILE = VAR_DIR / "queue.sqlite3"
CELERY_BROKER_URL = REDIS_URL or f"sqla+sqlite:///{QUEUE_FILE}"
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TIMEZONE = "UTC"
CELERY_ENABLE_UTC = True
# The queue carries nudges only: a lost one is found again by the sweep in the database.
CELERY_TASK_ACKS_LATE = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
# A plan is thought about for seconds on end: it has a worker of its own, so that no alarm waits.
CELERY_TASK_ROUTES = {"cases.tasks.plan": {"queue": PLANNING_QUEUE}}
# Plain intervals need no memory of the last run, so beat keeps no file.
CELERY_BEAT_SCHEDULER = "celery.beat:Scheduler"
CELERY_BEAT_MAX_LOOP_INTERVAL = 5
CELERY_BEAT_SCHEDULE = {
    "sweep": {
        "task": "cases.tasks.sweep",
        "schedule": float(SWEEP_EVERY_SECONDS),
        # A sweep that could not start in time is dropped: the next one sees the same rows.
        "options": {"expires": SWEEP_EVERY_SECONDS - 1},
    },
    "feeds": {
        "task": "cases.tasks.feeds",
        "schedule": float(SWEEP_EVERY_SECONDS),
        "options": {"expires": SWEEP_EVERY_SECONDS - 1},
    },
    "plan": {
        "task": "cases.tasks.plan",
        "schedule": float(PLAN_LOOK_EVERY_SECONDS),
        "options": {"expires": PLAN_LOOK_EVERY_SECONDS},
    },
    "nightly-copy": {
        "task": "labflow.tasks.nightly_copy",
        "schedule": float(COPY_LOOK_EVERY_SECONDS),
        "options": {"expires": COPY_LOOK_EVERY_SECONDS - 1},
    },
    "tidy": {
        "task": "cases.tasks.tidy",
        "schedule": float(COPY_LOOK_EVERY_SECONDS),
        "options": {"expires": COPY_LOOK_EVERY_SECONDS - 1},
    },
    "remedies": {
        "task": "cases.tasks.remedies",
        "schedule": float(REMEDY_LOOK_EVERY_SECONDS),
        "options": {"expires": REMEDY_LOOK_EVERY_SECONDS - 1},
    },
}
CELERY_IMPORTS = ["labflow.tasks"]

# --- What it says about itself ---------------------------------------------------------------
LOG_LEVEL = env.text("LABFLOW_LOG_LEVEL", "INFO").upper()
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "cases": {"level": LOG_LEVEL},
        "labflow": {"level": LOG_LEVEL},
        "celery": {"level": "WARNING"},
        # A page that is not there is the visitor's matter; a page that breaks is ours.
        "django.request": {"level": "ERROR"},
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        "django.server": {"handlers": [], "level": "WARNING", "propagate": True},
    },
}
