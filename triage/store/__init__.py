"""What is kept on disk: journals of jobs, the folder they lie in, files of answers."""
