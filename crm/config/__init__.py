"""How an installation is put together: settings, addresses, logs, and the doors for gunicorn and Celery."""
