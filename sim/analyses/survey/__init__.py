"""What if something fails: every single and double fault in every setting."""
