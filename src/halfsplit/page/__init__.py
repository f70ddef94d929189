"""The bench page: one job in a browser, over the job file that the command line writes. Needs the extra `page`."""
