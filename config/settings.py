"""
The project's settings: one module, every value from the environment (see .env.sample).

Where DATABASE_URL and BROKER_URL are not set, the servers in the data folder are meant, which
`python3 manage.py serve` starts. There are no other settings files.
"""

import os
from pathlib import Path

from config.data_folder import DataFolder, data_folder
from config.env import Environment
from config.logging import logging_settings

env = Environment(os.environ)
BASE_DIR = Path(__file__).resolve().parent.parent
DATA = DataFolder(data_folder())
USES_EMBEDDED_DATABASE = not env.has("DATABASE_URL")

# --- servers ---------------------------------------------------------------------------------

DATABASES = {
    "default": {
        **env.database("DATABASE_URL", DATA.app_url() if USES_EMBEDDED_DATABASE else None),
        "CONN_MAX_AGE": env.whole_number("DATABASE_CONNECTION_SECONDS", default=60),
        "CONN_HEALTH_CHECKS": True,
    }
}
DATABASES["default"]["OPTIONS"].setdefault("connect_timeout", "5")
# Read by `migrate` alone, which creates tables and grants; the pages and the worker never have it.
DATABASE_OWNER_URL = env.text("DATABASE_OWNER_URL", "")
# The role of the pages and the worker. History and ledgers cannot be rewritten under it.
DATABASE_APP_ROLE = env.text("DATABASE_APP_ROLE", "baywright_app")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

BROKER_URL = env.text("BROKER_URL", DATA.broker().url if USES_EMBEDDED_DATABASE else "redis://localhost:6379/0")

# Read by `web_server`: what gunicorn runs.
WEB_PROCESSES = env.whole_number("WEB_PROCESSES", default=2, least=1)
WEB_THREADS = env.whole_number("WEB_THREADS", default=4, least=1)

# --- what the site is -------------------------------------------------------------------------

SECRET_KEY = env.text(
    "SECRET_KEY",
    DATA.app_secrets()["secret_key"] if USES_EMBEDDED_DATABASE else None,
    example="a-long-line-of-random-characters",
)
DEBUG = env.flag("DEBUG", default=False)
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS", default=("localhost", "127.0.0.1", "[::1]"))
CSRF_TRUSTED_ORIGINS = env.words("CSRF_TRUSTED_ORIGINS")
# Where people outside reach this site: printed in the QR code of a packet. Empty: as the desk that issues it reaches it.
SITE_ADDRESS = env.text("SITE_ADDRESS", "")

INSTALLED_APPS = [
    "config",
    "builds",
    "inventory",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "rest_framework",
    "django_htmx",
    "template_partials",
    "axes",
    "csp",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

# Static files are served by the web process itself. Tests leave that out: every test client would
# look through all of them again.
SERVE_STATIC = env.flag("SERVE_STATIC", default=True)

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    *(["whitenoise.middleware.WhiteNoiseMiddleware"] if SERVE_STATIC else []),
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "config.middleware.EventStreamMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
    "config.middleware.ChangeLogMiddleware",
    "builds.views.responses.BuildErrorMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

# --- people -----------------------------------------------------------------------------------

AUTH_USER_MODEL = "builds.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",  # first, so that it can refuse before a password is tried
    "config.sessions.PersonBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign-in"
SESSION_ENGINE = "config.sessions"
SESSION_COOKIE_AGE = 60 * 60 * 14  # one long shift

AXES_FAILURE_LIMIT = env.whole_number("SIGN_IN_TRIES", default=8, least=1)
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
AXES_LOCKOUT_CALLABLE = "builds.views.sign_in.answer_too_many_tries"

# --- what a browser may do ----------------------------------------------------------------------

HTTPS = env.flag("HTTPS", default=False)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SECURE_HSTS_SECONDS = env.whole_number("HSTS_SECONDS", default=0)
SECURE_SSL_REDIRECT = False  # what stands in front of the web process does that
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
if env.flag("BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "manifest-src": ["'self'"],
        "worker-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}

# Where the screens hear of changes: a port beside the web process, or an address of its own when
# something in front of both joins them. Neither set: the screens ask again from time to time.
EVENTS_PORT = env.whole_number("EVENTS_PORT", default=0)
EVENTS_ORIGIN = env.text("EVENTS_ORIGIN", "")

# --- files --------------------------------------------------------------------------------------

STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "config" / "static"]
WHITENOISE_USE_FINDERS = True  # straight from the source folders: no collecting before a start
WHITENOISE_MAX_AGE = 60

MEDIA_ROOT = env.text("MEDIA_ROOT", str(DATA.media))
STORAGES = {
    "default": {
        "BACKEND": env.text("MEDIA_STORAGE", "django.core.files.storage.FileSystemStorage"),
        "OPTIONS": env.json_object("MEDIA_STORAGE_OPTIONS"),
    },
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o640
DATA_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024

# --- language and time ----------------------------------------------------------------------------

LANGUAGE_CODE = "en-us"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"  # columns hold UTC; the shop's own zone is data

# --- background work --------------------------------------------------------------------------------

CELERY_BROKER_URL = BROKER_URL
CELERY_TASK_IGNORE_RESULT = True  # the row is the truth, not the queue's answer
CELERY_TASK_TIME_LIMIT = 15 * 60
CELERY_TASK_SOFT_TIME_LIMIT = 14 * 60
CELERY_WORKER_MAX_TASKS_PER_CHILD = 20  # a render's memory stays with its process
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None  # for ever: the broker comes back
CELERY_BROKER_CONNECTION_TIMEOUT = 0.5
CELERY_BROKER_TRANSPORT_OPTIONS = {"socket_connect_timeout": 0.5, "socket_timeout": 30}
CELERY_TASK_PUBLISH_RETRY = False  # the sweep sends again what a dead broker missed
CELERY_TIMEZONE = "UTC"
SWEEP_SECONDS = env.whole_number("SWEEP_SECONDS", default=60, least=1)
CELERY_BEAT_SCHEDULE = {"sweep": {"task": "builds.tasks.sweep", "schedule": float(SWEEP_SECONDS)}}
# How long a worker may be silent about a packet before another one takes it over.
PACKET_LEASE_SECONDS = env.whole_number("PACKET_LEASE_SECONDS", default=60, least=1)

# --- the API ----------------------------------------------------------------------------------------

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["builds.api.authentication.PageSession"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "EXCEPTION_HANDLER": "builds.api.exception_handler.handle_exception",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}

# --- logs -------------------------------------------------------------------------------------------

LOGGING_CONFIG = "config.logging.configure"
LOGGING = logging_settings(
    level=env.choice("LOG_LEVEL", ("DEBUG", "INFO", "WARNING", "ERROR", "CRITICAL"), default="INFO"),
    form=env.choice("LOG_FORM", ("json", "lines"), default="json"),
)
