"""Every setting, typed, from the environment or the data folder's settings.env.

Two ways to run, told apart here and nowhere else. Embedded: SQLite, mail and a broker's unix socket in
one data folder. Served: PostgreSQL by DATABASE_URL and Redis by REDIS_URL. A value that cannot be right
stops the start with a sentence that names the setting and says how to mend it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF

from crm.config.environment import read_environment
from crm.config.logs import logging_settings

PROJECT = Path(__file__).resolve().parents[2]

ENVIRONMENT = read_environment()
DATA = ENVIRONMENT.folder

DEBUG = ENVIRONMENT.debug
SECRET_KEY = ENVIRONMENT.secret_key
SECRET_KEY_FALLBACKS = ENVIRONMENT.old_secret_keys
BASE_URL = ENVIRONMENT.base_url
"""Where owners and staff reach the installation; the start of every link in a message. No closing slash."""
ALLOWED_HOSTS = ENVIRONMENT.hosts
CSRF_TRUSTED_ORIGINS = ENVIRONMENT.trusted_origins

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_tables2",
    "django_filters",
    "django_htmx",
    "simple_history",
    "axes",
    "csp",
    "crm",
]

MIDDLEWARE = [
    "crm.config.request_id.RequestIdMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    # Axes asks to be the last, so that it sees the answer of a locked sign-in first.
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "crm.config.urls"
WSGI_APPLICATION = "crm.config.wsgi.application"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [PROJECT / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "crm.web.context.house",
            ],
        },
    },
]

DATABASES = {"default": ENVIRONMENT.database}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# People and sign-in
AUTH_USER_MODEL = "crm.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign_in"
AXES_FAILURE_LIMIT = 6
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_HANDLER = "crm.web.sign_in_limit.SignInLimit"
AXES_CLIENT_IP_CALLABLE = "crm.web.sign_in_limit.caller"
BEHIND_PROXY = ENVIRONMENT.behind_proxy
"""Whether X-Forwarded-Proto and the last entry of X-Forwarded-For are a proxy's own words."""
AXES_RESET_ON_SUCCESS = True
# Who signed in when, and from where, is kept nowhere; the last time stands on the account.
AXES_DISABLE_ACCESS_LOG = True
AXES_ENABLE_ACCESS_FAILURE_LOG = False
AXES_VERBOSE = False
AXES_LOCKOUT_TEMPLATE = "errors/429.html"
SESSION_COOKIE_AGE = 14 * 24 * 3600

# Words and time
LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True
TIME_ZONE = ENVIRONMENT.time_zone

# Files. What owners and the studio upload is private: it leaves through a view, never through STATIC_URL.
STATIC_URL = "/static/"
STATIC_ROOT = DATA.static
MEDIA_ROOT = DATA.media
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# Mail
EMAIL_BACKEND = ENVIRONMENT.mail.backend
EMAIL_FILE_PATH = DATA.mail
EMAIL_HOST = ENVIRONMENT.mail.host
EMAIL_PORT = ENVIRONMENT.mail.port
EMAIL_HOST_USER = ENVIRONMENT.mail.user
EMAIL_HOST_PASSWORD = ENVIRONMENT.mail.password
EMAIL_USE_TLS = ENVIRONMENT.mail.starttls
EMAIL_USE_SSL = ENVIRONMENT.mail.tls
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = ENVIRONMENT.mail.sender
SERVER_EMAIL = ENVIRONMENT.mail.sender
MAIL_GOES_TO_FOLDER = ENVIRONMENT.mail.to_folder
"""True until an SMTP server is set: the screens say so."""

# What a browser may do with a page
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "frame-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "object-src": [NONE],
        "frame-ancestors": [NONE],
    },
}
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "crm.web.errors.page_too_old"
# An address that begins with https means that nothing may travel in the clear.
SESSION_COOKIE_SECURE = ENVIRONMENT.https
CSRF_COOKIE_SECURE = ENVIRONMENT.https
SECURE_SSL_REDIRECT = ENVIRONMENT.https
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if ENVIRONMENT.https else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = ENVIRONMENT.hsts.subdomains
SECURE_HSTS_PRELOAD = ENVIRONMENT.hsts.preload
# Two checks want both switched on. Whether the names under this one are bound, and whether browsers learn it by heart,
# is the installation's to decide: other sites may live there, and the promise cannot be taken back for a year.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None

LOGGING = logging_settings(form=ENVIRONMENT.log_form, level=ENVIRONMENT.log_level)

# Read by crm.config.celery
CELERY_BROKER_URL = ENVIRONMENT.broker_url
TICK_SECONDS = ENVIRONMENT.tick_seconds
