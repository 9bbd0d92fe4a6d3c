"""What does this coating look like?"""
