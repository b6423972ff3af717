"""Cases and studies that several tests share."""
