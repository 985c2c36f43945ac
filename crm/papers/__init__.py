"""What is printed or filed: PDF documents and calendar files, made from frozen content."""
